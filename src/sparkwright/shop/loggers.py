"""What was said of a logger's columns, so that it is asked once: kept under the headings that it writes."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256

from sparkwright.shop.settings import StoreSettings

NAME = "logger"


@dataclass(frozen=True)
class Logger:
    """One logger, known by its headings: which column is what, and in which unit."""

    settings: StoreSettings
    name: str
    channels: Mapping[str, str]
    units: Mapping[str, str]

    def keep(self, channels: Mapping[str, str], units: Mapping[str, str]) -> None:
        """Keep what is said of it from now on.

        Parameters
        ----------
        channels : mapping
            Column of each quantity that was named by hand.
        units : mapping
            Unit of each column that was stated by hand.
        """
        self.settings.set(
            self.name, json.dumps({"channels": dict(channels), "units": dict(units)}, sort_keys=True)
        )


def remembered_of(settings: StoreSettings, headings: Sequence[str]) -> Logger:
    """Give what was said of the logger that writes such headings, in whatever order.

    Parameters
    ----------
    settings : StoreSettings
        Settings of the store, in which loggers are kept.
    headings : sequence of str
        Headings of the columns of a log.
    """
    text = "\n".join(sorted(headings))
    name = f"{NAME} {sha256(text.encode()).hexdigest()[:32]}"
    kept = json.loads(settings.get(name) or "{}")
    return Logger(settings, name, kept.get("channels", {}), kept.get("units", {}))
