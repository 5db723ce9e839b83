"""Removing a job for good: the one way in which what was saved leaves the store.

The database refuses to delete revisions, hand-overs and attachments. It lets those of a job go that stands in
the table ``removing``, and a job stands there only inside the transaction that deletes everything of it.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, Table, delete, func, insert, select, update

from sparkwright.shop.database import Database
from sparkwright.shop.facts import Holding
from sparkwright.shop.log import HERE, add_line
from sparkwright.shop.refusals import ShopError, name_given
from sparkwright.shop.revision_rows import job_id_of, latest_of
from sparkwright.shop.tables import (
    attachments,
    case_entries,
    cases,
    columns,
    evidence,
    hand_overs,
    job_states,
    jobs,
    kept_texts,
    learning_runs,
    log,
    removing,
    revisions,
)


@dataclass(frozen=True)
class Removal:
    """The end of jobs."""

    database: Database

    def holding(self, key: str) -> Holding:
        """Say what the store holds of a job, for the person who is about to remove it.

        Parameters
        ----------
        key : str
            Key of the job.
        """
        with self.database.reading() as connection:
            return _holding(connection, key)

    def remove(self, seen: Holding, *, who: str, also_handed_over: bool = False) -> bool:
        """Remove a job with everything that belongs to it; nothing brings it back.

        Files go that no other job uses. What stays is one line of the log that says how much was removed, by
        whom and when, and what was taken out before: archives and backups.

        Parameters
        ----------
        seen : Holding
            What the person has seen that the store holds of it.
        who : str
            Who removes it.
        also_handed_over : bool
            Whether it may have been handed over.

        Returns
        -------
        bool
            False where other programs keep SQLite from writing its file anew: then its log holds what was
            removed until all of them have closed the store.

        Raises
        ------
        ShopError
            If it was changed since it was seen, or was handed over and that wasn't said; all of it stays.
        NotThereError
            If there is no such job.
        """
        who = name_given("who", who)
        with self.database.writing() as connection:
            job_id = job_id_of(connection, seen.key)
            _require_removable(seen, _holding(connection, seen.key), also_handed_over)
            files = _files_of(connection, job_id)
            _delete_all(connection, job_id, seen.key)
            about = f"revisions: {seen.revisions}, evidence: {seen.evidence}, files: {seen.files}"
            add_line(connection, "removal", HERE, who=who, key=None, about=about)
        # Rows first: a file that stays behind does less harm than a row whose file is gone.
        with self.database.writing() as connection:
            for name in files - _files_in_use(connection):
                self.database.files.take_away(name)
        return self.database.leave_no_trace()


def _require_removable(seen: Holding, there: Holding, also_handed_over: bool) -> None:
    if there != seen:
        raise ShopError(f"{seen.key}: was changed by somebody meanwhile and stays; look at it again first")
    if there.handed_over and not also_handed_over:
        raise ShopError(
            f"{seen.key}: was handed over, and its signed record is the shop's proof of what it did; "
            "say --also-handed-over if it may go all the same"
        )


def _holding(connection: Connection, key: str) -> Holding:
    job_id = job_id_of(connection, key)
    signed = select(hand_overs.c.revision_id).join(revisions).where(revisions.c.job_id == job_id)
    return Holding(
        key=key,
        name=latest_of(connection, key).name,
        turn=connection.execute(select(jobs.c.turn).where(jobs.c.id == job_id)).scalar_one(),
        revisions=_count(connection, revisions, job_id),
        handed_over=len(connection.execute(signed).all()),
        kept_texts=_count(connection, kept_texts, job_id),
        evidence=_count(connection, evidence, job_id),
        files=_count(connection, attachments, job_id),
        cases=_count(connection, cases, job_id),
    )


def _count(connection: Connection, table: Table, job_id: int) -> int:
    counted = select(func.count()).select_from(table).where(table.c.job_id == job_id)
    found: int = connection.execute(counted).scalar_one()
    return found


def _delete_all(connection: Connection, job_id: int, key: str) -> None:
    """Delete every row of a job, those that refer to others first."""
    of_job = revisions.c.job_id == job_id
    fingerprints = set(connection.execute(select(revisions.c.fingerprint).where(of_job)).scalars())
    connection.execute(insert(removing).values(job_id=job_id))
    signed = select(revisions.c.id).where(of_job)
    connection.execute(delete(hand_overs).where(hand_overs.c.revision_id.in_(signed)))
    attached = select(attachments.c.id).where(attachments.c.job_id == job_id)
    connection.execute(delete(columns).where(columns.c.attachment_id.in_(attached)))
    asked = select(cases.c.id).where(cases.c.job_id == job_id)
    connection.execute(delete(case_entries).where(case_entries.c.case_id.in_(asked)))
    for table in (revisions, attachments, kept_texts, evidence, cases, removing):
        connection.execute(delete(table).where(table.c.job_id == job_id))
    connection.execute(delete(jobs).where(jobs.c.id == job_id))
    for fingerprint in fingerprints:
        in_use = select(revisions.c.id).where(revisions.c.fingerprint == fingerprint).exists()
        for table in (job_states, learning_runs):
            connection.execute(delete(table).where(table.c.fingerprint == fingerprint, ~in_use))
    # Its key is made from its name.
    connection.execute(update(log).where(log.c.key == key).values(key=None))


def _files_of(connection: Connection, job_id: int) -> set[str]:
    attached = select(attachments.c.sha256).where(attachments.c.job_id == job_id)
    read = select(columns.c.sha256).join(attachments).where(attachments.c.job_id == job_id)
    return set(connection.execute(attached.union(read)).scalars())


def _files_in_use(connection: Connection) -> set[str]:
    return set(connection.execute(select(attachments.c.sha256).union(select(columns.c.sha256))).scalars())
