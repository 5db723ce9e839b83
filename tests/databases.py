"""Databases for the tests of the store: a file of SQLite, and a PostgreSQL of our own without a network."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

import psycopg

DEBIAN = Path("/usr/lib/postgresql")
"""Where Debian's package `postgresql` puts its programs, a folder for each version."""


def programs() -> Path | None:
    """Give the folder of the newest initdb and pg_ctl; None where PostgreSQL isn't installed."""
    found = sorted(DEBIAN.glob("*/bin/pg_ctl"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    on_path = shutil.which("pg_ctl")
    return Path(on_path).resolve().parent if on_path else None


def _as_postgres(command: list[str | Path], user: str) -> None:
    """Run one of PostgreSQL's programs, which refuse to run as the superuser of the machine."""
    lowered = {"user": user, "group": user, "extra_groups": []} if os.getuid() == 0 else {}
    subprocess.run(
        [str(each) for each in command],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.STDOUT,
        cwd="/",
        timeout=60,
        **lowered,  # type: ignore[call-overload]
    )


@contextmanager
def postgresql(bin_folder: Path) -> Iterator[str]:
    """Run a PostgreSQL in a temporary folder, reached by a socket only; gives the address of its server."""
    user = "postgres" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    data = folder / "data"
    try:
        if os.getuid() == 0:
            shutil.chown(folder, user, user)
        _as_postgres(
            [bin_folder / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync"],
            user,
        )
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c max_connections=60"
        control = [bin_folder / "pg_ctl", "-D", data, "-w", "-s", "-l", folder / "log"]
        _as_postgres([*control, "-o", options, "start"], user)
        try:
            yield f"postgresql://postgres@/{{name}}?host={folder}"
        finally:
            _as_postgres([*control, "-m", "immediate", "stop"], user)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_database(server: str) -> str:
    """Make an empty database on a server and give its address."""
    name = f"shop_{uuid4().hex}"
    with psycopg.connect(server.format(name="postgres"), autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}".encode())
    return server.format(name=name)
