"""What a workbench is started with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

SIGN_IN = "/sign-in"
"""The page that asks for the pass-phrase: the only one that takes a post from whoever reaches us."""
AUTHORITY = "/authority.crt"
"""Where a phone gets the authority that it has to trust, before anybody has signed in on it."""
LOOPBACK = ("127.0.0.1", "localhost", "::1")
"""The names under which a machine reaches itself and nobody else does."""


@dataclass(frozen=True)
class Settings:
    """How a workbench is served.

    Parameters
    ----------
    hosts : tuple of str
        Names under which browsers may ask for it, without the port; anything else is refused, so that a
        page elsewhere can't reach it under a borrowed name.
    shared : bool
        True when other machines reach it: then a pass-phrase is required.
    behind_proxy : str
        Address of the proxy that is believed when it says for whom it asks; empty where there is none.
    session_hours : float
        How long a sign-in lasts.
    most_upload_bytes : int
        The largest file that is taken.
    most_body_bytes : int
        The largest of any other post.
    most_sign_in_bytes : int
        The largest post of somebody who wants to sign in.
    authority : Path, optional
        The authority that a phone has to trust first, where the workbench has a certificate of its own.
    knowledge : tuple of Path
        Files of causes and tests that the shop adds for its desk, or folders of them.
    """

    hosts: tuple[str, ...] = LOOPBACK
    shared: bool = False
    behind_proxy: str = ""
    session_hours: float = 12.0
    most_upload_bytes: int = 2_000_000_000
    most_body_bytes: int = 2_000_000
    most_sign_in_bytes: int = 8_000
    authority: Path | None = None
    knowledge: tuple[Path, ...] = ()
