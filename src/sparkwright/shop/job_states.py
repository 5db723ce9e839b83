"""How jobs stood when they were last worked out, so that the list can say it without working them out.

It belongs to facts and program, not to a job: each row can be thrown away and comes back by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import delete, insert, select

from sparkwright import __version__
from sparkwright.shop.database import Database
from sparkwright.shop.facts import Mark
from sparkwright.shop.tables import job_states, revisions

MOST_WORDS = 500


@dataclass(frozen=True)
class JobStates:
    """How the jobs of a store stood."""

    database: Database

    def put(self, fingerprint: str, mark: Mark, words: str) -> None:
        """Note how the facts of a fingerprint stand, as this version of the program sees them.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the facts.
        mark : Mark
            Mark that the list of jobs shows.
        words : str
            What stands beside the mark.
        """
        with self.database.writing() as connection:
            if not connection.execute(
                select(revisions.c.id).where(revisions.c.fingerprint == fingerprint)
            ).first():
                return  # its job was removed while this was worked out
            connection.execute(
                delete(job_states).where(
                    job_states.c.fingerprint == fingerprint, job_states.c.program == __version__
                )
            )
            connection.execute(
                insert(job_states).values(
                    fingerprint=fingerprint, program=__version__, mark=mark, words=words[:MOST_WORDS]
                )
            )
