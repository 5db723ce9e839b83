"""Databases for the tests of the store: a file of SQLite, and a PostgreSQL of our own without a network."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import psycopg
from sqlalchemy import select, update

from sparkwright.shop import Shop, open_shop
from sparkwright.shop.tables import learning_runs

BENCH = (Path(__file__).parent / "data" / "bench.toml").read_text(encoding="utf-8")
DEBIAN = Path("/usr/lib/postgresql")
"""Where Debian's package `postgresql` puts its programs, a folder for each version."""


def programs() -> Path | None:
    """Give the folder of the newest initdb and pg_ctl; None where PostgreSQL isn't installed."""
    found = sorted(DEBIAN.glob("*/bin/pg_ctl"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    on_path = shutil.which("pg_ctl")
    return Path(on_path).resolve().parent if on_path else None


def _as_postgres(*command: str | Path) -> None:
    """Run one of PostgreSQL's programs, which refuse to run as the superuser of the machine."""
    lowered = ("postgres", "postgres", ()) if os.getuid() == 0 else (None, None, None)
    subprocess.run(
        command,
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.STDOUT,
        cwd="/",
        timeout=60,
        user=lowered[0],
        group=lowered[1],
        extra_groups=lowered[2],
    )


@contextmanager
def postgresql(bin_folder: Path) -> Iterator[str]:
    """Run a PostgreSQL in a temporary folder, reached by a socket only; gives the address of its server."""
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    data = folder / "data"
    try:
        if os.getuid() == 0:
            shutil.chown(folder, "postgres", "postgres")
        _as_postgres(
            bin_folder / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync"
        )
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c max_connections=60"
        control = (bin_folder / "pg_ctl", "-D", data, "-w", "-s", "-l", folder / "log")
        _as_postgres(*control, "-o", options, "start")
        try:
            yield f"postgresql://postgres@/{{name}}?host={folder}"
        finally:
            _as_postgres(*control, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_database(server: str) -> str:
    """Make an empty database on a server and give its address."""
    name = f"shop_{uuid4().hex}"
    with psycopg.connect(server.format(name="postgres"), autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}".encode())
    return server.format(name=name)


@dataclass(frozen=True)
class Here:
    """A place for a store, as `open_shop` takes it."""

    address: str
    files: Path | str | None

    def open(self) -> Shop:
        return open_shop(self.address, files=self.files)


def silent_for(shop: Shop, silence: timedelta) -> None:
    """Let every run of learning have said its last word so long ago."""
    with shop.database.writing() as connection:
        for number, told in connection.execute(select(learning_runs.c.id, learning_runs.c.told_at)).all():
            earlier = update(learning_runs).where(learning_runs.c.id == number).values(told_at=told - silence)
            connection.execute(earlier)


def restart(server: str) -> None:
    """Stop a server of `postgresql` at once, with whatever it is doing, and start it again."""
    folder, bin_folder = Path(server.rpartition("host=")[2]), programs()
    assert bin_folder is not None
    control = (bin_folder / "pg_ctl", "-D", folder / "data", "-w", "-s", "-l", folder / "log")
    options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c max_connections=60"
    _as_postgres(*control, "-m", "immediate", "-o", options, "restart")
