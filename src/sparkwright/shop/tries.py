"""Tries of the pass-phrase, counted in the store so that a limit holds over all serving processes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, func, insert, select

from sparkwright.shop.database import Database
from sparkwright.shop.tables import tries


@dataclass(frozen=True)
class TryLimits:
    """How many tries are let through within a time.

    Parameters
    ----------
    from_one_place, from_all : int
        The most from one place, and from all places together.
    within : timedelta
        How long a try counts.
    """

    from_one_place: int
    from_all: int
    within: timedelta


@dataclass(frozen=True)
class Tries:
    """The tries of a store."""

    database: Database

    def may_take(self, place: str, limits: TryLimits, now: datetime) -> bool:
        """Whether another try from a place is let through.

        Parameters
        ----------
        place : str
            Where the try comes from, such as an address.
        limits : TryLimits
            How many tries within which time.
        now : datetime
            The moment of the try.
        """
        with self.database.reading() as connection:
            return _may_try(connection, place, limits, now)

    def take(self, place: str, limits: TryLimits, now: datetime) -> int | None:
        """Count a try and give its number; None where the limit is reached.

        Counting and looking are one act: two processes never let the last try through twice.

        Parameters
        ----------
        place : str
            Where the try comes from, such as an address.
        limits : TryLimits
            How many tries within which time.
        now : datetime
            The moment of the try.
        """
        with self.database.writing() as connection:
            connection.execute(delete(tries).where(tries.c.tried_at <= now - limits.within))
            if not _may_try(connection, place, limits, now):
                return None
            added = insert(tries).values(place=place, tried_at=now).returning(tries.c.id)
            number: int = connection.execute(added).scalar_one()
            return number

    def forget(self, number: int) -> None:
        """Count a try no longer: it was right.

        Parameters
        ----------
        number : int
            Number of the try, as `take` gave it.
        """
        with self.database.writing() as connection:
            connection.execute(delete(tries).where(tries.c.id == number))


def _may_try(connection: Connection, place: str, limits: TryLimits, now: datetime) -> bool:
    here = func.count().filter(tries.c.place == place)
    counted = select(here, func.count()).where(tries.c.tried_at > now - limits.within)
    from_here, from_all = connection.execute(counted).one()
    return bool(from_here < limits.from_one_place and from_all < limits.from_all)
