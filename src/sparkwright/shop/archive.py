"""One job as one plain archive, to hand to another shop: written out, and read in with suspicion.

A ZIP file with the revisions as job files, the attached files, and a history that says who did what when.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, JsonValue
from sqlalchemy import Connection, Table, insert, update

from sparkwright.errors import Refusal
from sparkwright.evidence.records import Record
from sparkwright.job import Job
from sparkwright.job.toml import MOST_BYTES
from sparkwright.shop.attachments import MOST_ATTACHED_BYTES, attachments_of, file_name_given
from sparkwright.shop.database import Database, now
from sparkwright.shop.evidence import MOST_RECORDS, records_of
from sparkwright.shop.facts import AttachmentKind, read_job, shown_in_list
from sparkwright.shop.files import ASK_CHECK, Content, chunks_of, write_chunks
from sparkwright.shop.new_jobs import free_key
from sparkwright.shop.package import Package, json_bytes, packing, read_list
from sparkwright.shop.refusals import ShopError, fields_given, name_given, sentence_given, why_given
from sparkwright.shop.revision_rows import (
    MOST_NUMBER,
    add_job,
    add_revision,
    all_revisions,
    kept_of,
    sign,
)
from sparkwright.shop.tables import attachments, evidence, jobs, kept_texts

SCHEMA = "urn:sparkwright:job-archive:2"
FIRST_SCHEMA = "urn:sparkwright:job-archive:1"
"""Archives written before there was evidence of other kinds than light readings."""
HISTORY = "history.json"
MOST_TEXTS = 20_000
MOST_TEXT_BYTES = 100_000_000
"""Revisions and kept texts of one job, together."""

Part = TypeVar("Part", bound="_Part")
Number = Annotated[int, Field(ge=1, le=MOST_NUMBER)]
Moment = Annotated[
    AwareDatetime, Field(ge=datetime(1980, 1, 1, tzinfo=UTC), lt=datetime(2200, 1, 1, tzinfo=UTC))
]
"""A moment that can be said in the time of any place; the ends of the calendar can't."""
TextName = Annotated[str, Field(pattern=r"^(revisions|kept)/[0-9]{4,}\.toml$", max_length=80)]
FileName = Annotated[str, Field(pattern=r"^attachments/[0-9a-f]{64}$")]


class _Part(BaseModel):
    """Nothing but the keys that are known."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ArchivedRevision(_Part):
    """A revision; its text is a member of its own. The last four are null until it is handed over."""

    number: Number
    file: TextName
    when: Moment
    who: str
    why: str
    fingerprint: str = Field(pattern=r"^[0-9a-f]{64}$")
    handed_over_by: str | None
    handed_over_when: Moment | None
    signed_for: str | None
    acknowledged: tuple[str, ...] = Field(max_length=1000)


class ArchivedKept(_Part):
    """A text kept beside the job, as a member of its own."""

    file: TextName
    when: Moment
    who: str
    why: str
    based_on: Number


class ArchivedEvidence(_Part):
    """One thing that was seen; the last three tell of its withdrawal."""

    kind: str = Field(pattern=r"^[a-z]+(-[a-z]+)*$", max_length=20)
    version: Number
    fields: dict[str, JsonValue]
    when: Moment
    who: str
    withdrawn_when: Moment | None
    withdrawn_by: str | None
    withdrawn_why: str


class ArchivedReading(_Part):
    """A light reading in an archive of the first schema."""

    row: dict[str, JsonValue]
    when: Moment
    who: str
    taken_back_when: Moment | None
    taken_back_by: str | None

    def evidence(self) -> ArchivedEvidence:
        """Give it as it is kept today."""
        return ArchivedEvidence(
            kind="light-reading",
            version=1,
            fields=self.row,
            when=self.when,
            who=self.who,
            withdrawn_when=self.taken_back_when,
            withdrawn_by=self.taken_back_by,
            withdrawn_why="",
        )


class ArchivedAttachment(_Part):
    """An attached file; its bytes are a member of its own."""

    name: str
    kind: AttachmentKind
    file: FileName
    when: Moment
    who: str


class _Told(_Part):
    key: str = Field(max_length=80)
    revisions: tuple[ArchivedRevision, ...] = Field(min_length=1, max_length=MOST_TEXTS)
    kept: tuple[ArchivedKept, ...] = Field(max_length=MOST_TEXTS)
    attachments: tuple[ArchivedAttachment, ...] = Field(max_length=MOST_TEXTS)


class History(_Told):
    """Everything that the store knows of a job beside its texts and files."""

    evidence: tuple[ArchivedEvidence, ...] = Field(max_length=MOST_RECORDS)


class FirstHistory(_Told):
    """The same in an archive of the first schema."""

    readings: tuple[ArchivedReading, ...] = Field(max_length=MOST_RECORDS)

    def history(self) -> History:
        """Give it as it is written today."""
        told = {name: getattr(self, name) for name in _Told.model_fields}
        return History.model_construct(**told, evidence=tuple(each.evidence() for each in self.readings))


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
        with Package(Path(source), SCHEMA, FIRST_SCHEMA) as package:
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
    if package.manifest.schema_ == FIRST_SCHEMA:
        return read_list(called, content, FirstHistory).history()
    return read_list(called, content, History)


def _archived(record: Record) -> ArchivedEvidence:
    gone = record.withdrawn
    return _part(
        ArchivedEvidence,
        record,
        withdrawn_when=gone and gone.when,
        withdrawn_by=gone and gone.who,
        withdrawn_why=gone.why if gone else "",
    )


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
    for attachment in history.attachments:
        name_given("who", attachment.who)
        file_name_given(attachment.name)
    attached = [(each, package.content(each.file)) for each in history.attachments]
    for attachment, packed in attached:
        if _bytes_file(packed.sha256) != attachment.file:
            raise ShopError(f"{package.name}: {attachment.file} does not hold what its name says")
    return _Checked(history, [read_job(text) for text in texts], texts, kept, attached)


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
