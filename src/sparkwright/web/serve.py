"""Start the workbench and say where it is."""

from __future__ import annotations

import errno
import ipaddress
import logging
import socket
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from sparkwright.errors import Refusal
from sparkwright.shop import Shop
from sparkwright.web import certificate as certificates
from sparkwright.web import learning_progress
from sparkwright.web.app import create_app
from sparkwright.web.certificate import CIPHERS, Certificate
from sparkwright.web.connections import Limits, Places, connection_of, most_open
from sparkwright.web.guard import HOST_NAME
from sparkwright.web.log import OnceAMinute
from sparkwright.web.sessions import has_passphrase
from sparkwright.web.settings import AUTHORITY as AUTHORITY_PATH
from sparkwright.web.settings import LOOPBACK, Settings

MOST_HOURS = 720
WAITING_AT_THE_DOOR = 128
"""Connections that the machine holds until they are taken in; a choice."""
ENDS_WITHIN_S = 2
"""Answers under way have so long when the workbench is stopped; a choice."""


def listen_on(address: str, port: int) -> socket.socket:
    """Take a port before anything is said of it.

    Parameters
    ----------
    address : str
        Address of this machine to listen on.
    port : int
        Number of the port.

    Raises
    ------
    Refusal
        If address or port can't be had.
    """
    if not 0 <= port <= 65535:
        raise Refusal.at("--port", port, "must be 0 to 65535", "0 picks a free one")
    try:
        family = socket.AF_INET6 if ipaddress.ip_address(address).version == 6 else socket.AF_INET
    except ValueError as problem:
        raise Refusal.at(
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
            raise Refusal.at(
                "--listen",
                f'"{address}"',
                "must be an address of this machine",
                "leave it out to serve this machine alone",
            ) from problem
        why = (problem.strerror or "refused").lower()
        raise Refusal.at(
            "--port",
            port,
            f"can't be had at {address} ({why})",
            "0 picks a free one",
        ) from problem
    return taken


def is_loopback(name: str) -> bool:
    """Whether a name or an address means this machine to each machine, so that no other is reached by it.

    Parameters
    ----------
    name : str
        Name or address.
    """
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return name.lower() in LOOPBACK


def settings_for(
    address: str, names: tuple[str, ...], shop: Shop, hours: float, behind_proxy: str | None = None
) -> Settings:
    """Settle how to serve at an address.

    Parameters
    ----------
    address : str
        Address of this machine to listen on.
    names : tuple of str
        Names under which it is also asked for.
    shop : Shop
        The store, for whether it has a pass-phrase.
    hours : float
        How long a sign-in holds [h].
    behind_proxy : str, optional
        Address of what stands in front of it; None for nothing.

    Raises
    ------
    Refusal
        If others can reach the workbench and the shop has no pass-phrase, a name or the proxy's address is
        none, or a sign-in can't last so long.
    """
    if not 0.1 <= hours <= MOST_HOURS:
        raise Refusal.at("--hours", f"{hours:g}", f"must be 0.1 to {MOST_HOURS}", "12 is a working day")
    for name in names:
        if HOST_NAME.fullmatch(name) is None:
            must = "must be a name or an address, without http:// and without a port"
            raise Refusal.at("--name", f'"{name}"', must, "for example workbench.shop.example")
    opened_by = _opened_to_others(address, names, behind_proxy)
    if opened_by is not None and not has_passphrase(shop):
        option, given, why = opened_by
        raise Refusal.at(
            option,
            given,
            f"{why}, so the shop needs a pass-phrase first",
            "set one with `sparkwright shop passphrase`",
        )
    return Settings(
        hosts=(*LOOPBACK, *_names_at(address), *names),
        shared=opened_by is not None,
        behind_proxy=behind_proxy or "",
        session_hours=hours,
    )


def certificate_for(
    settings: Settings, certificate: Path | None, key: Path | None, made_in: Path | None
) -> Certificate | None:
    """Give the certificate to serve under: from files, one of our own from a folder, or None without either.

    Parameters
    ----------
    settings : Settings
        How it is served.
    certificate : Path or None
        File of a certificate; None for one of our own, or none.
    key : Path or None
        File of its key.
    made_in : Path or None
        Folder of our own certificates; None for none of our own.

    Raises
    ------
    Refusal
        If only half of one is named, two are, or it can't be read or made.
    """
    if (certificate is None) != (key is None):
        missing = "--key" if key is None else "--certificate"
        raise Refusal.at(missing, None, "must be named together with the other", "they are two PEM files")
    if certificate is not None and key is not None:
        if made_in is not None:
            must = "must stand alone, as a certificate is given already"
            raise Refusal.at("--make-certificate", f'"{made_in}"', must, "leave one of the two out")
        return certificates.given(certificate, key)
    if made_in is None:
        return None
    names = tuple(dict.fromkeys(host for host in settings.hosts if HOST_NAME.fullmatch(host)))
    return certificates.own(made_in, names)


def _opened_to_others(
    address: str, names: tuple[str, ...], behind_proxy: str | None
) -> tuple[str, str, str] | None:
    """Give the option by which others than this machine come in, its value and why; None where none does."""
    if behind_proxy is not None:
        try:
            ipaddress.ip_address(behind_proxy)
        except ValueError as problem:
            must = "must be the address from which the proxy asks, in numbers"
            raise Refusal.at(
                "--behind-proxy", f'"{behind_proxy}"', must, "127.0.0.1 where it runs on this machine"
            ) from problem
        return "--behind-proxy", behind_proxy, "lets in whom the proxy lets in"
    if not is_loopback(address):
        return "--listen", address, "is reached by other machines"
    name = next((name for name in names if not is_loopback(name)), None)
    return None if name is None else ("--name", name, "is a name under which others may ask")


def _names_at(address: str) -> tuple[str, ...]:
    """Give the names under which this machine is asked for when it serves at an address."""
    if is_loopback(address):
        return (address,)
    return _own_names() if ipaddress.ip_address(address).is_unspecified else (socket.gethostname(), address)


def _own_names() -> tuple[str, ...]:
    """Give the names and addresses under which this machine is known."""
    name = socket.gethostname()
    try:
        found = {str(each[4][0]) for each in socket.getaddrinfo(name, None)}
    except OSError:
        found = set()
    return (name, *sorted(found))


def addresses(taken: socket.socket, settings: Settings, scheme: str = "http") -> list[str]:
    """Give the addresses at which a browser finds it, first the one for this machine.

    Parameters
    ----------
    taken : socket.socket
        The port that was taken.
    settings : Settings
        How it is served.
    scheme : str, optional
        "http" or "https".
    """
    address, port = taken.getsockname()[:2]
    hosts = [address]
    if ipaddress.ip_address(address).is_unspecified:
        # It stands for every address of this machine and is none itself.
        own = "::1" if taken.family == socket.AF_INET6 else "127.0.0.1"
        hosts = [
            own,
            *(host for host in settings.hosts if HOST_NAME.fullmatch(host) and not is_loopback(host)),
        ]
    return [f"{scheme}://{f'[{host}]' if ':' in host else host}:{port}/" for host in hosts]


def announce(
    taken: socket.socket,
    settings: Settings,
    say: Callable[[str], None],
    certificate: Certificate | None = None,
) -> Settings:
    """Say where the workbench is; give how it is served, with the authority that phones have to trust.

    Parameters
    ----------
    taken : socket.socket
        The port that was taken.
    settings : Settings
        How it is served.
    say : callable
        Writes a line for whoever started it.
    certificate : Certificate, optional
        The certificate; None where nothing is encrypted.
    """
    place, *others = addresses(taken, settings, "http" if certificate is None else "https")
    say(f"The workbench is open at {place}")
    if others:
        say(f"Other machines reach it at {' or '.join(others)}; a further name is given with --name.")
    if certificate is not None:
        say(f"Type it with https:// in full: at http://{place.partition('://')[2]} nothing answers.")
    if certificate is not None and certificate.authority is not None:
        settings = replace(settings, authority=certificate.authority)
        say(f"Phones trust it once they have {certificate.authority}, also at {place}{AUTHORITY_PATH[1:]}")
        say(f"Its SHA-256 is {certificates.fingerprint(certificate.authority)}")
    say("Stop it with Ctrl+C; what was saved is safe at any moment.")
    return settings


def open_browser(taken: socket.socket, certificate: Certificate | None = None) -> None:
    """Open the workbench in a browser in a moment, when it serves.

    Parameters
    ----------
    taken : socket.socket
        The port that was taken.
    certificate : Certificate, optional
        The certificate; None where nothing is encrypted.
    """
    place = addresses(taken, Settings(), "http" if certificate is None else "https")[0]
    threading.Timer(0.5, webbrowser.open, [place]).start()


def serving(
    shop: Shop, taken: socket.socket, settings: Settings, certificate: Certificate | None = None
) -> None:
    """Serve until told to stop; encrypted where there is a certificate.

    Parameters
    ----------
    shop : Shop
        The store.
    taken : socket.socket
        The port that was taken.
    settings : Settings
        How it is served.
    certificate : Certificate, optional
        The certificate; None where nothing is encrypted.
    """
    said = OnceAMinute()
    handler = logging.StreamHandler()
    handler.addFilter(said)
    logging.basicConfig(format="%(asctime)s %(levelname)s %(message)s", handlers=[handler])
    try:
        app, limits = create_app(shop, settings), Limits(most=most_open())
        server_of(app, limits, settings, certificate).run(sockets=[taken])
    finally:
        said.tell_the_rest()


def server_of(
    app: FastAPI, limits: Limits, settings: Settings, certificate: Certificate | None = None
) -> Server:
    """Give what serves a workbench within limits.

    Parameters
    ----------
    app : FastAPI
        The workbench.
    limits : Limits
        How many connections and how long each may take.
    settings : Settings
        How it is served.
    certificate : Certificate, optional
        The certificate; None where nothing is encrypted.
    """
    config = uvicorn.Config(
        app,
        http=connection_of(Places(limits, settings.behind_proxy)),
        ws="none",
        log_config=None,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=bool(settings.behind_proxy),
        forwarded_allow_ips=[settings.behind_proxy] if settings.behind_proxy else [],
        # So many are taken in at a time before the first is counted.
        backlog=min(WAITING_AT_THE_DOOR, limits.most // 4),
        timeout_graceful_shutdown=ENDS_WITHIN_S,
        ssl_certfile=None if certificate is None else certificate.certificate,
        ssl_keyfile=None if certificate is None else certificate.key,
        ssl_ciphers=CIPHERS,
    )
    return Server(config, app)


class Server(uvicorn.Server):
    """Ends soon, whatever is under way."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Send away first whoever waits for a plan or for learning, so that no answer holds up the end."""
        self._app.state.reckoner.turn_away()
        learning_progress.turn_away()
        await super().shutdown(sockets)
