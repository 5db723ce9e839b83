"""The log of a serving workbench: a thing that is repeated is said once a minute, with its count."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

EACH_S = 60.0
MOST_KINDS = 1000
"""Kinds of messages that are told apart; a choice, far more than there are."""


class OnceAMinute(logging.Filter):
    """Lets one message of a kind through a minute, and says with the next how many there were in between.

    Messages with the same text before their values are filled in are of one kind. A fault is always said, as
    its number stands on somebody's screen, but where it happened only once a minute.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._clock = clock
        self._said: dict[tuple[str, str], float] = {}
        self._held_back: dict[tuple[str, str], int] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether a message is written; adds the count of those that were not.

        Parameters
        ----------
        record : logging.LogRecord
            The message.
        """
        kind = (record.name, str(record.msg)[:200])
        now_s = self._clock()
        if now_s - self._said.get(kind, float("-inf")) < EACH_S:
            if record.exc_info:
                record.exc_info = record.exc_text = None
                return True
            self._held_back[kind] = self._held_back.get(kind, 0) + 1
            return False
        if len(self._said) >= MOST_KINDS:
            self._said.clear()
        self._said[kind] = now_s
        count = self._held_back.pop(kind, 0)
        if count:
            record.msg, record.args = f"{record.getMessage()} (and {count:,} more like it before)", ()
        return True

    def tell_the_rest(self) -> None:
        """Say how many messages were held back of which no further one came."""
        for (name, what), count in self._held_back.items():
            logging.getLogger(name).warning(f"{count:,} more like this: {what}")
        self._held_back.clear()
