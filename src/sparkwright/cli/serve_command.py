"""The command that opens the workbench, and the one that sets its pass-phrase."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from sparkwright.cli.common import GOOD, Plain

SHOP = click.option(
    "--shop",
    "place",
    default=None,
    help="Where jobs are kept: a folder, or postgresql://... ; else SPARKWRIGHT_SHOP or your data folder.",
)


@click.command()
@SHOP
@click.option("--port", type=int, default=8270, show_default=True, help="0 picks a free one.")
@click.option(
    "--listen",
    default="127.0.0.1",
    show_default=True,
    help="Address to serve at; another one than this lets the shop's network in, with a pass-phrase.",
)
@click.option(
    "--name",
    "names",
    multiple=True,
    help="A further host name under which it may be asked for; needs a pass-phrase as --listen does.",
)
@click.option(
    "--behind-proxy",
    metavar="ADDRESS",
    help="Address of a proxy that is believed when it says for whom it asks; needs a pass-phrase too.",
)
@click.option(
    "--hours",
    type=Plain(low=0.0, high=999.0),
    default=12.0,
    show_default=True,
    help="How long a sign-in lasts.",
)
@click.option(
    "--certificate",
    type=click.Path(path_type=Path),
    help="Serve encrypted under this certificate, a PEM file.",
)
@click.option("--key", type=click.Path(path_type=Path), help="The certificate's private key, a PEM file.")
@click.option(
    "--make-certificate",
    "made_in",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Serve encrypted under a certificate of its own, made in this folder; phones have to trust it.",
)
@click.option(
    "--workers", type=int, default=1, show_default=True, help="Processes that serve behind the one address."
)
@click.option(
    "--knowledge",
    multiple=True,
    metavar="PATH",
    type=click.Path(path_type=Path),
    help="The shop's own causes and tests for the desk: a TOML file, or a folder of them.",
)
@click.option("--browser/--no-browser", default=True, help="Open the browser as well.")
def serve(
    place: str | None,
    port: int,
    listen: str,
    names: tuple[str, ...],
    behind_proxy: str | None,
    hours: float,
    certificate: Path | None,
    key: Path | None,
    made_in: Path | None,
    workers: int,
    knowledge: tuple[Path, ...],
    browser: bool,
) -> int:
    """Open the workbench in a browser, on this machine alone."""
    from dataclasses import replace

    from sparkwright.shop import open_shop, usual_place
    from sparkwright.web.serve import (
        announce,
        certificate_for,
        listen_on,
        open_browser,
        serving,
        settings_for,
    )
    from sparkwright.web.several import keep_serving, require_possible

    require_possible(workers)
    where = place or usual_place()
    taken = listen_on(listen, port)
    try:
        # Nothing but the socket is shared between processes: each opens the store for itself.
        shop = open_shop(where)
        try:
            settings = replace(settings_for(listen, names, shop, hours, behind_proxy), knowledge=knowledge)
        finally:
            shop.close()
        served_under = certificate_for(settings, certificate, key, made_in)
        settings = announce(taken, settings, click.echo, served_under)

        def serve_one() -> None:
            opened = open_shop(where)
            try:
                serving(opened, taken, settings, served_under)
            finally:
                opened.close()

        def begun() -> None:
            if browser:
                open_browser(taken, served_under)

        if workers == 1:
            begun()
            serve_one()
        else:
            keep_serving(workers, serve_one, begun)
    finally:
        taken.close()
    return GOOD


@click.command()
@SHOP
def passphrase(place: str | None) -> int:
    """Set the pass-phrase that the shop's network needs; ends every sign-in."""
    from sparkwright.shop import open_shop, usual_place
    from sparkwright.web.sessions import set_passphrase

    given = os.environ.get("SPARKWRIGHT_PASSPHRASE")
    if given is None and sys.stdin.isatty():
        given = click.prompt("New pass-phrase", hide_input=True, confirmation_prompt=True)
    elif given is None:
        given = sys.stdin.readline().rstrip("\r\n")
    shop = open_shop(place or usual_place())
    try:
        set_passphrase(shop, given or "")
    finally:
        shop.close()
    click.echo("The pass-phrase is set; everybody signs in anew.")
    return GOOD


COMMANDS = (serve,)
