"""What a workbench is started with."""

from __future__ import annotations

from dataclasses import dataclass

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
    session_hours : float
        How long a sign-in lasts.
    most_upload_bytes : int
        The largest file that is taken.
    most_body_bytes : int
        The largest of any other post.
    behind_proxy : str, optional
        Address of a proxy that speaks for many people, and so has no limit of connections of its own.
    """

    hosts: tuple[str, ...] = LOOPBACK
    shared: bool = False
    session_hours: float = 12.0
    most_upload_bytes: int = 2_000_000_000
    most_body_bytes: int = 2_000_000
    behind_proxy: str | None = None
