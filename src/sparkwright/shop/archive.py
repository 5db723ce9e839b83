"""One job as one plain archive, to hand to another shop: written out, and read in with suspicion.

A ZIP file with the revisions as job files, the attached files, and a history that says who did what when.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Connection, Table, insert, update

from sparkwright.desk.case import Case
from sparkwright.errors import Refusal
from sparkwright.evidence.records import Record
from sparkwright.job import Job
from sparkwright.job.toml import MOST_BYTES
from sparkwright.shop.archived import (
    FORMS,
    ArchivedAttachment,
    ArchivedCase,
    ArchivedEntry,
    ArchivedEvidence,
    ArchivedKept,
    ArchivedPart,
    ArchivedRevision,
    History,
)
from sparkwright.shop.attachments import MOST_ATTACHED_BYTES, attachments_of, file_name_given
from sparkwright.shop.cases import MOST_CASE_NAME, cases_of
from sparkwright.shop.database import Database, now
from sparkwright.shop.evidence import records_of
from sparkwright.shop.facts import read_job, shown_in_list
from sparkwright.shop.files import ASK_CHECK, Content, chunks_of, write_chunks
from sparkwright.shop.new_jobs import free_key
from sparkwright.shop.package import Package, json_bytes, packing, read_list
from sparkwright.shop.refusals import ShopError, fields_given, name_given, sentence_given, why_given
from sparkwright.shop.revision_rows import (
    add_job,
    add_revision,
    all_revisions,
    kept_of,
    sign,
)
from sparkwright.shop.tables import attachments, case_entries, cases, evidence, jobs, kept_texts

SCHEMA = next(iter(FORMS))
HISTORY = "history.json"
MOST_TEXT_BYTES = 100_000_000
"""Revisions and kept texts of one job, together."""

Part = TypeVar("Part", bound=ArchivedPart)


@dataclass(frozen=True)
class Archives:
    """Jobs in and out as archives; no file in one may be longer than ``most_bytes``."""

    database: Database
    most_bytes: int = MOST_ATTACHED_BYTES

    def write(self, key: str, target: str | Path) -> None:
        """Write one job with all its revisions, kept texts, evidence and files into an archive.

        Columns read from files are left out: they are made again from the file.

        Parameters
        ----------
        key : str
            Key of the job.
        target : str or Path
            Where the archive goes; nothing may be there yet.

        Raises
        ------
        ShopError
            If there is a file of that name, or a file of the job is missing or damaged.
        """
        with self.database.reading() as connection:
            revisions = all_revisions(connection, key)
            kept = kept_of(connection, key)
            seen = records_of(connection, key)
            calls = cases_of(connection, key)
            files = attachments_of(connection, key)
        kept_files = [f"kept/{place:04}.toml" for place in range(1, len(kept) + 1)]
        history = History.model_construct(
            key=key,
            revisions=tuple(
                _part(ArchivedRevision, each, file=_text_file(each.number)) for each in revisions
            ),
            kept=tuple(
                _part(ArchivedKept, each, file=file) for each, file in zip(kept, kept_files, strict=True)
            ),
            evidence=tuple(_archived(each) for each in seen),
            cases=tuple(_archived_case(each) for each in calls),
            attachments=tuple(
                _part(ArchivedAttachment, each, file=_bytes_file(each.sha256)) for each in files
            ),
        )
        with packing(Path(target), SCHEMA) as package:
            package.add(HISTORY, [json_bytes(history.model_dump(mode="json"))])
            for revision in revisions:
                package.add(_text_file(revision.number), [revision.text.encode()])
            for text, file in zip(kept, kept_files, strict=True):
                package.add(file, [text.text.encode()])
            for attachment in files:
                with self.database.files.open(attachment.sha256, attachment.name) as stream:
                    packed = package.add(_bytes_file(attachment.sha256), chunks_of(stream))
                if packed != Content(attachment.sha256, attachment.size):
                    raise ShopError(
                        f"{attachment.name}: its file is damaged, and no archive was written; {ASK_CHECK}"
                    )

    def bring_in(self, source: str | Path, *, who: str) -> str:
        """Read one job from an archive into this store, all of it or nothing, and give its key.

        The key is made anew where a job of that key is here already. Who did what when stays as it was.

        Parameters
        ----------
        source : str or Path
            The archive.
        who : str
            Who brings it in.

        Raises
        ------
        ShopError
            If it is no archive, or anything in it can't stand.
        """
        who = name_given("who", who)
        with Package(Path(source), *FORMS) as package:
            given = _history(package)
            try:
                history = _checked(given, package)
            except Refusal as problem:
                raise ShopError(f"{package.name}: {problem}") from problem
            called = {each.file: each.name for each in reversed(given.attachments)}
            with self._arrived(package, called) as arrived, self.database.writing() as connection:
                for path, content in arrived:
                    self.database.files.adopt(path, content)
                return _add_all(connection, history, who)

    @contextmanager
    def _arrived(self, package: Package, called: dict[str, str]) -> Iterator[list[tuple[Path, Content]]]:
        """Give each of these members once, when all have arrived whole."""
        with ExitStack() as until_all_are_there:
            arrived = []
            for file, name in called.items():
                path = until_all_are_there.enter_context(self.database.files.arriving())
                chunks = package.chunks(file)
                arrived.append((path, write_chunks(path, chunks, most_bytes=self.most_bytes, called=name)))
            yield arrived


def _history(package: Package) -> History:
    called, content = f"{package.name}, {HISTORY}", package.read(HISTORY)
    return read_list(called, content, FORMS[package.manifest.schema_]).history()


def _archived(record: Record) -> ArchivedEvidence:
    gone = record.withdrawn
    return _part(
        ArchivedEvidence,
        record,
        withdrawn_when=gone and gone.when,
        withdrawn_by=gone and gone.who,
        withdrawn_why=gone.why if gone else "",
    )


def _archived_case(case: Case) -> ArchivedCase:
    place = {each.id: number for number, each in enumerate(case.entries, start=1)}
    entries = tuple(
        _part(ArchivedEntry, each, withdraws=each.withdraws and place[each.withdraws])
        for each in case.entries
    )
    return _part(ArchivedCase, case, entries=entries)


def _text_file(number: int) -> str:
    return f"revisions/{number:04}.toml"


def _bytes_file(name: str) -> str:
    return f"attachments/{name}"


def _part(model: type[Part], record: object, **more: object) -> Part:
    """Take from a record what a part of the history has under the same names."""
    same = {name: getattr(record, name) for name in model.model_fields if name not in more}
    return model.model_construct(None, **same, **more)


@dataclass(frozen=True)
class _Checked:
    """What an archive holds, each value checked as if a person had typed it."""

    history: History
    jobs: list[Job]
    texts: list[str]
    kept_texts: list[str]
    attachments: list[tuple[ArchivedAttachment, Content]]


def _checked(history: History, package: Package) -> _Checked:
    if [each.number for each in history.revisions] != list(range(1, len(history.revisions) + 1)):
        raise ShopError(f"{package.name}: its revisions are not numbered 1, 2, 3 and so on")
    _check_text_files(
        [*(each.file for each in history.revisions), *(each.file for each in history.kept)], package
    )
    texts = [_text(package, each.file) for each in history.revisions]
    kept = [_text(package, each.file) for each in history.kept]
    for revision in history.revisions:
        name_given("who", revision.who)
        why_given(revision.why)
        if (revision.handed_over_by is None) != (revision.handed_over_when is None):
            raise ShopError(f"{package.name}: revision {revision.number} is handed over only by halves")
        if revision.handed_over_by is not None:
            name_given("handed_over_by", revision.handed_over_by)
            for sentence in revision.acknowledged:
                sentence_given("acknowledged", sentence)
        if revision.signed_for is not None:
            name_given("signed_for", revision.signed_for)
    for text, content in zip(history.kept, kept, strict=True):
        name_given("who", text.who)
        why_given(text.why)
        read_job(content)
        if text.based_on > len(history.revisions):
            raise ShopError(
                f"{package.name}: a kept text is based on revision {text.based_on}, which is not there"
            )
    for seen in history.evidence:
        name_given("who", seen.who)
        fields_given(seen.fields)
        why_given(seen.withdrawn_why)
        if seen.withdrawn_by is not None:
            name_given("withdrawn_by", seen.withdrawn_by)
    for case in history.cases:
        _check_case(case, package.name)
    for attachment in history.attachments:
        name_given("who", attachment.who)
        file_name_given(attachment.name)
    attached = [(each, package.content(each.file)) for each in history.attachments]
    for attachment, packed in attached:
        if _bytes_file(packed.sha256) != attachment.file:
            raise ShopError(f"{package.name}: {attachment.file} does not hold what its name says")
    return _Checked(history, [read_job(text) for text in texts], texts, kept, attached)


def _check_case(case: ArchivedCase, archive: str) -> None:
    name_given("name", case.name, MOST_CASE_NAME)
    name_given("who", case.who)
    standing: set[int] = set()
    for number, entry in enumerate(case.entries, start=1):
        place = f"{archive}: case {case.name!r}, entry {number}"
        name_given("who", entry.who)
        why_given(entry.text)
        if (entry.kind == "withdrawn") != (entry.withdraws is not None):
            raise ShopError(f"{place}: a withdrawal, and nothing else, names what it withdraws")
        if entry.withdraws is None:
            standing.add(number)
        elif entry.withdraws in standing:
            standing.remove(entry.withdraws)
        else:
            raise ShopError(f"{place}: nothing stands under {entry.withdraws} to be withdrawn")


def _check_text_files(files: list[str], package: Package) -> None:
    """Refuse, before any is read, what a few bytes could make without end."""
    twice = [file for file, times in Counter(files).items() if times > 1]
    if twice:
        raise ShopError(f"{package.name}: {twice[0]} stands for more than one text; each has its own")
    size = sum(package.content(file).size for file in files)
    if size > MOST_TEXT_BYTES:
        raise ShopError(
            f"{package.name}: its job files hold {size:,} bytes, and {MOST_TEXT_BYTES:,} is the most"
        )


def _text(package: Package, file: str) -> str:
    content = package.read(file, MOST_BYTES)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as problem:
        raise ShopError(f"{package.name}: {file} is not UTF-8 text") from problem


def _add_all(connection: Connection, given: _Checked, who: str) -> str:
    history, last, newest = given.history, given.history.revisions[-1], given.jobs[-1]
    key = free_key(connection, history.key)
    job_id = add_job(connection, key, given.jobs[0], who, last.when)
    for revision, text, job in zip(history.revisions, given.texts, given.jobs, strict=True):
        add_revision(
            connection, job_id, revision.number, text, job, revision.who, revision.why, revision.when
        )
        if revision.handed_over_by is not None and revision.handed_over_when is not None:
            sign(
                connection,
                job_id,
                revision.number,
                revision.handed_over_by,
                revision.acknowledged,
                revision.signed_for or "",
                revision.handed_over_when,
            )
    connection.execute(
        update(jobs)
        .where(jobs.c.id == job_id)
        .values(
            **shown_in_list(newest),
            number=last.number,
            saved_at=last.when,
            saved_by=last.who,
            handed_over=last.handed_over_by is not None,
            imported_at=now(),
            imported_by=who,
        )
    )
    _add_rows(
        connection,
        kept_texts,
        [
            {
                "job_id": job_id,
                "text": text,
                "kept_at": kept.when,
                "given_by": kept.who,
                "why": kept.why,
                "based_on": kept.based_on,
            }
            for kept, text in zip(history.kept, given.kept_texts, strict=True)
        ],
    )
    _add_rows(
        connection,
        evidence,
        [
            {
                "job_id": job_id,
                "kind": seen.kind,
                "version": seen.version,
                "fields": fields_given(seen.fields),
                "taken_at": seen.when,
                "taken_by": seen.who,
                "withdrawn_at": seen.withdrawn_when,
                "withdrawn_by": seen.withdrawn_by,
                "withdrawn_why": why_given(seen.withdrawn_why),
            }
            for seen in history.evidence
        ],
    )
    for case in history.cases:
        _add_case(connection, job_id, case)
    _add_rows(
        connection,
        attachments,
        [
            {
                "job_id": job_id,
                "name": attachment.name,
                "kind": attachment.kind,
                "size": content.size,
                "sha256": content.sha256,
                "attached_at": attachment.when,
                "attached_by": attachment.who,
            }
            for attachment, content in given.attachments
        ],
    )
    return key


def _add_rows(connection: Connection, table: Table, rows: list[dict[str, object]]) -> None:
    if rows:
        connection.execute(insert(table), rows)


def _add_case(connection: Connection, job_id: int, case: ArchivedCase) -> None:
    """Add a case entry by entry, since a withdrawal names its entry by the number that it has here."""
    row = {"job_id": job_id, "name": case.name, "opened_at": case.when, "opened_by": case.who}
    case_id = connection.execute(insert(cases).values(row).returning(cases.c.id)).scalar_one()
    ids: list[int] = []
    for entry in case.entries:
        row = {
            "case_id": case_id,
            "kind": entry.kind,
            "question": entry.question,
            "answer": entry.answer,
            "text": why_given(entry.text),
            "withdraws": entry.withdraws and ids[entry.withdraws - 1],
            "said_at": entry.when,
            "noted_by": entry.who,
        }
        ids.append(
            connection.execute(insert(case_entries).values(row).returning(case_entries.c.id)).scalar_one()
        )
