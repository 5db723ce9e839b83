"""Start the workbench and say where it is."""

from __future__ import annotations

import errno
import ipaddress
import logging
import socket
import threading
import webbrowser
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI

from sparkwright.errors import InputError
from sparkwright.shop import Shop
from sparkwright.web.app import create_app
from sparkwright.web.connections import Limits, Places, connection_of, most_open
from sparkwright.web.log import OnceAMinute
from sparkwright.web.sessions import has_passphrase
from sparkwright.web.settings import LOOPBACK, Settings

MOST_HOURS = 720
WAITING_AT_THE_DOOR = 128
"""Connections that the machine holds until they are taken in; a choice."""
ENDS_WITHIN_S = 2
"""Answers under way have so long when the workbench is stopped; a choice."""


def listen_on(address: str, port: int) -> socket.socket:
    """Take a port before anything is said of it.

    Raises
    ------
    InputError
        If address or port can't be had.
    """
    if not 0 <= port <= 65535:
        raise InputError("--port", port, "must be 0 to 65535", "0 picks a free one")
    try:
        family = socket.AF_INET6 if ipaddress.ip_address(address).version == 6 else socket.AF_INET
    except ValueError as problem:
        raise InputError(
            "--listen",
            f'"{address}"',
            "must be an address of this machine in numbers",
            "for example 192.168.1.20",
        ) from problem
    taken = socket.socket(family)
    taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind((address, port))
        # From here on a browser that comes before the workbench is up waits, instead of being turned away.
        taken.listen(WAITING_AT_THE_DOOR)
    except OSError as problem:
        taken.close()
        if problem.errno == errno.EADDRNOTAVAIL:
            raise InputError(
                "--listen",
                f'"{address}"',
                "must be an address of this machine",
                "leave it out to serve this machine alone",
            ) from problem
        why = (problem.strerror or "refused").lower()
        raise InputError(
            "--port",
            port,
            f"can't be had at {address} ({why})",
            "0 picks a free one",
        ) from problem
    return taken


def is_loopback(address: str) -> bool:
    """Whether only this machine reaches an address."""
    return ipaddress.ip_address(address).is_loopback


def settings_for(address: str, names: tuple[str, ...], shop: Shop, hours: float) -> Settings:
    """Settle how to serve at an address.

    Raises
    ------
    InputError
        If other machines reach the address and the shop has no pass-phrase, or a sign-in can't last so long.
    """
    if not 0.1 <= hours <= MOST_HOURS:
        raise InputError("--hours", f"{hours:g}", f"must be 0.1 to {MOST_HOURS}", "12 is a working day")
    if is_loopback(address):
        return Settings(hosts=(*LOOPBACK, address, *names), session_hours=hours)
    if not has_passphrase(shop):
        raise InputError(
            "--listen",
            address,
            "is reached by other machines, so the shop needs a pass-phrase first",
            "set one with `sparkwright shop passphrase`",
        )
    own = (
        (socket.gethostname(), address) if not ipaddress.ip_address(address).is_unspecified else _own_names()
    )
    return Settings(hosts=(*LOOPBACK, *own, *names), shared=True, session_hours=hours)


def _own_names() -> tuple[str, ...]:
    """Give the names and addresses under which this machine is known."""
    name = socket.gethostname()
    try:
        found = {str(each[4][0]) for each in socket.getaddrinfo(name, None)}
    except OSError:
        found = set()
    return (name, *sorted(found))


def serve(
    shop: Shop, taken: socket.socket, settings: Settings, *, open_browser: bool, say: Callable[[str], None]
) -> None:
    """Serve until the person stops it with Ctrl+C."""
    address, port = taken.getsockname()[:2]
    shown = f"[{address}]" if ":" in str(address) else address
    place = f"http://{shown}:{port}/"
    say(f"The workbench is open at {place}")
    say("Stop it with Ctrl+C; what was saved is safe at any moment.")
    if open_browser:
        threading.Timer(0.5, webbrowser.open, [place]).start()
    said = OnceAMinute()
    handler = logging.StreamHandler()
    handler.addFilter(said)
    logging.basicConfig(format="%(asctime)s %(levelname)s %(message)s", handlers=[handler])
    try:
        server_of(create_app(shop, settings), Limits(most=most_open()), settings).run(sockets=[taken])
    finally:
        said.tell_the_rest()


def server_of(app: FastAPI, limits: Limits, settings: Settings) -> Server:
    """Give what serves a workbench within limits."""
    config = uvicorn.Config(
        app,
        http=connection_of(Places(limits, settings.behind_proxy)),
        ws="none",
        log_config=None,
        log_level="warning",
        access_log=False,
        server_header=False,
        # So many are taken in at a time before the first is counted.
        backlog=min(WAITING_AT_THE_DOOR, limits.most // 4),
        timeout_graceful_shutdown=ENDS_WITHIN_S,
    )
    return Server(config, app)


class Server(uvicorn.Server):
    """Ends soon, whatever is under way."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Send away first whoever waits for a plan, so that no answer holds up the end."""
        self._app.state.reckoner.turn_away()
        await super().shutdown(sockets)
