"""What was taken where the shop states nothing, and how far it may be off."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Assumed:
    """A value the shop did not state, with what was taken instead and why."""

    field: str
    value: str
    why: str


@dataclass(frozen=True)
class SpreadTaken:
    """One thing not known exactly, with the standard deviation taken for it, and where that comes from."""

    name: str
    amount: str
    stated: bool
    """Whether the job states it; what it leaves to assumption may be off by more."""
    origin: str
