"""A few settings that belong to the store and not to a job."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import delete, insert, select

from sparkwright.shop.database import Database
from sparkwright.shop.refusals import name_given
from sparkwright.shop.tables import settings

PASSPHRASE = "passphrase"
SESSION_SECRET = "session_secret"
ENDED_SIGN_INS = "ended_sign_ins"
"""Who may come in: the hash of the pass-phrase, what sign-ins are signed with, and those ended early."""


@dataclass(frozen=True)
class StoreSettings:
    """Settings by name."""

    database: Database

    def get(self, name: str) -> str | None:
        """Give the value of a setting; None when it was never set.

        Parameters
        ----------
        name : str
            Name of the setting.
        """
        with self.database.reading() as connection:
            value: str | None = connection.execute(
                select(settings.c.value).where(settings.c.name == name)
            ).scalar()
            return value

    def set(self, name: str, value: str | None) -> None:
        """Set a setting; None takes it out.

        Parameters
        ----------
        name : str
            Name of the setting.
        value : str or None
            What it is set to; None takes it out.
        """
        name = name_given("setting", name)
        with self.database.writing() as connection:
            connection.execute(delete(settings).where(settings.c.name == name))
            if value is not None:
                connection.execute(insert(settings).values(name=name, value=value))
