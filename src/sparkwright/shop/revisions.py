"""Jobs and their revisions: everything saved stays, and two people who save at once both keep their work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select, update

from sparkwright.errors import Refusal, printable
from sparkwright.job import Job
from sparkwright.shop.database import Database, now
from sparkwright.shop.facts import JobLine, KeptText, Revision, RevisionLine, read_job, shown_in_list
from sparkwright.shop.new_jobs import free_key, started_before
from sparkwright.shop.refusals import (
    NotThereError,
    SavedElsewhereError,
    ShopError,
    job_text_given,
    name_given,
    sent_as_given,
    sentence_given,
    why_given,
)
from sparkwright.shop.revision_rows import (
    MOST_NUMBER,
    add_job,
    add_revision,
    job_id_of,
    job_line,
    keep_text,
    kept_of,
    latest_of,
    next_turn,
    require_number,
    revision_facts,
    revision_of,
    select_jobs,
    select_revisions,
    sign,
)
from sparkwright.shop.tables import jobs, kept_texts, revisions

FIRST_WHY = "started"
MOST_LINES = 10_000


@dataclass(frozen=True)
class Jobs:
    """The jobs of a store."""

    database: Database

    # Reading

    def lines(self, *, search: str = "", limit: int = 50, after: str | None = None) -> list[JobLine]:
        """List jobs, the one changed last first.

        Parameters
        ----------
        search : str
            Words that must all stand in name, engine, vehicle, customer or plate; capitals don't matter.
        limit : int
            Most lines to give.
        after : str, optional
            Key of the last job of the page before; goes on with those that changed before it.
        """
        if not 0 <= limit <= MOST_LINES:
            raise Refusal.at("limit", limit, f"must be 0 to {MOST_LINES}", "ask for the next page with after")
        lines = select_jobs().where(*_found(search)).order_by(jobs.c.turn.desc()).limit(limit)
        with self.database.reading() as connection:
            if after is not None:
                turn = select(jobs.c.turn).where(jobs.c.key == after)
                lines = lines.where(jobs.c.turn < turn.scalar_subquery())
            return [job_line(row) for row in connection.execute(lines).mappings()]

    def count(self, search: str = "") -> int:
        """Count the jobs that `lines` would list without a limit.

        Parameters
        ----------
        search : str, optional
            Words that must all stand in name, engine, vehicle, customer or plate.
        """
        with self.database.reading() as connection:
            found: int = connection.execute(
                select(func.count()).select_from(jobs).where(*_found(search))
            ).scalar_one()
            return found

    def latest(self, key: str) -> Revision:
        """Give the newest revision of a job.

        Parameters
        ----------
        key : str
            The job.
        """
        with self.database.reading() as connection:
            return latest_of(connection, key)

    def revision(self, key: str, number: int) -> Revision:
        """Give one revision of a job.

        Parameters
        ----------
        key : str
            The job.
        number : int
            Number of the revision, from 1.
        """
        with self.database.reading() as connection:
            return revision_of(connection, key, number)

    def history(self, key: str, *, before: int = MOST_NUMBER, limit: int | None = None) -> list[RevisionLine]:
        """Give the revisions of a job without their texts, newest first; below a number, and only so many.

        Parameters
        ----------
        key : str
            The job.
        before : int, optional
            Only revisions with a number below this.
        limit : int, optional
            Most revisions to give; all without.
        """
        with self.database.reading() as connection:
            job_id_of(connection, key)
            wanted = select_revisions(with_text=False).where(jobs.c.key == key, revisions.c.number < before)
            rows = connection.execute(wanted.order_by(revisions.c.number.desc()).limit(limit))
            return [RevisionLine(**revision_facts(row)) for row in rows.mappings()]

    def kept(self, key: str) -> list[KeptText]:
        """Give the texts kept beside a job since somebody else had saved before, oldest first.

        Parameters
        ----------
        key : str
            The job.
        """
        with self.database.reading() as connection:
            return kept_of(connection, key)

    # Writing

    def create(self, text: str, *, who: str, why: str = FIRST_WHY, sent_as: str | None = None) -> Revision:
        """Start a job from the text of a job file.

        Parameters
        ----------
        text : str
            The job file, whole.
        who, why : str
            Who starts it, and for what reason.
        sent_as : str, optional
            A word that whoever sends it makes up for it. Sent again under the same word, because no answer
            came, the same text is the same job; another text is another one.

        Raises
        ------
        Refusal
            If the text is not a job, or who or why can't stand.
        """
        job, who, why = _given(text, who, why)
        _require_answers(job)
        sent_as = sent_as_given(sent_as)
        with self.database.writing() as connection:
            there = started_before(connection, text, sent_as)
            if there is not None:
                return latest_of(connection, there)
            key = free_key(connection, job.name)
            when = now()
            job_id = add_job(connection, key, job, who, when, sent_as)
            add_revision(connection, job_id, 1, text, job, who, why, when)
            return latest_of(connection, key)

    def save(self, key: str, text: str, *, who: str, why: str, based_on: int) -> Revision:
        """Save a new revision of a job.

        Parameters
        ----------
        key : str
            The job.
        text : str
            The job file, whole.
        who, why : str
            Who changed it, and for what reason.
        based_on : int
            The revision that this person had before them.

        Raises
        ------
        SavedElsewhereError
            If that is not the newest one; the text is then kept beside the job.
        Refusal
            If the text is not a job, or who or why can't stand.
        NotThereError
            If there is no such job.
        """
        return self._save(key, text, self.latest(key), who=who, why=why, based_on=based_on)

    def bring_back(self, key: str, number: int, *, who: str, why: str, based_on: int) -> Revision:
        """Save an old revision again as the newest one; refused like `save`.

        Parameters
        ----------
        key : str
            The job.
        number : int
            The old revision.
        who, why : str
            Who brings it back, and for what reason.
        based_on : int
            The revision that this person had before them.
        """
        old = self.revision(key, number)
        return self._save(key, old.text, old, who=who, why=why, based_on=based_on)

    def _save(self, key: str, text: str, before: Revision, *, who: str, why: str, based_on: int) -> Revision:
        """Save a text; what was left open `before` may stay open in it."""
        job, who, why = _given(text, who, why)
        _require_answers(job, before)
        with self.database.writing() as connection:
            latest = latest_of(connection, key)
            if not 1 <= based_on <= latest.number:
                raise Refusal.at("based_on", based_on, f"must be a revision of {key}, 1 to {latest.number}")
            if _is_sent_again(latest, text, who, why, based_on):
                return latest
            if latest.number == based_on:
                return self._add(connection, key, text, job, who, why, latest.number + 1)
            kept = keep_text(connection, key, text, who, why, based_on)
        # Raised only here, where the kept text is on the disk.
        raise SavedElsewhereError(latest, kept)

    def hand_over(
        self, key: str, number: int, *, who: str, acknowledged: Sequence[str], signed_for: str = ""
    ) -> Revision:
        """Sign a revision off; it is fixed from then on, and later changes are new revisions.

        Parameters
        ----------
        key, number : str, int
            The revision.
        who : str
            Who signs.
        acknowledged : sequence of str
            The cautions that this person has acknowledged, as they were shown.
        signed_for : str
            For whom, where it isn't the person who signs.

        Raises
        ------
        ShopError
            If it is handed over already.
        """
        who = name_given("who", who)
        signed_for = name_given("signed_for", signed_for) if signed_for.strip() else ""
        sentences = [sentence_given("acknowledged", each) for each in acknowledged]
        with self.database.writing() as connection:
            revision = revision_of(connection, key, number)
            if revision.handed_over:
                raise ShopError(
                    f"revision {number} of {key} was handed over by {revision.handed_over_by} and is fixed; "
                    "save a change as a new revision and hand that over"
                )
            job_id = job_id_of(connection, key)
            sign(connection, job_id, number, who, sentences, signed_for, now())
            if latest_of(connection, key).number == number:
                connection.execute(
                    update(jobs)
                    .where(jobs.c.id == job_id)
                    .values(handed_over=True, turn=next_turn(connection))
                )
            return revision_of(connection, key, number)

    def drop_kept(self, kept_id: int) -> None:
        """Take a kept text off the list; the row stays, marked with the time.

        Parameters
        ----------
        kept_id : int
            The kept text.
        """
        require_number(kept_id, "kept text")
        with self.database.writing() as connection:
            done = connection.execute(
                update(kept_texts)
                .where(kept_texts.c.id == kept_id, kept_texts.c.dropped_at.is_(None))
                .values(dropped_at=now())
            )
            if done.rowcount == 0:
                raise NotThereError(f"there is no kept text {kept_id}; it may have been dropped before")

    def _add(
        self, connection: Connection, key: str, text: str, job: Job, who: str, why: str, number: int
    ) -> Revision:
        job_id, when = job_id_of(connection, key), now()
        add_revision(connection, job_id, number, text, job, who, why, when)
        connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id)
            .values(
                **shown_in_list(job),
                number=number,
                saved_at=when,
                saved_by=who,
                handed_over=False,
                turn=next_turn(connection),
            )
        )
        return latest_of(connection, key)


# What a person gave


def _is_sent_again(latest: Revision, text: str, who: str, why: str, based_on: int) -> bool:
    """Whether a save is one that was done already, and whose answer was lost on its way to the person."""
    return (latest.number, latest.text, latest.who, latest.why) == (based_on + 1, text, who, why)


def _given(text: str, who: str, why: str) -> tuple[Job, str, str]:
    job_text_given(text)
    return read_job(text), name_given("who", who), why_given(why)


def _require_answers(job: Job, before: Revision | None = None) -> None:
    """Refuse a job that leaves open what is asked today, but for what was open before."""
    asked = job.open_questions()
    if asked and before is not None:
        asked = tuple(sorted(set(asked) - set(before.job.open_questions()), key=str))
    if asked:
        raise Refusal(asked)


def _found(search: str) -> list[Any]:
    words = printable(search).casefold().split()
    return [jobs.c.search.contains(word, autoescape=True) for word in words]
