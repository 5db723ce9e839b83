"""What stands in the history of an archived job, in each of its schemas."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, JsonValue

from sparkwright.desk.case import EntryKind
from sparkwright.shop.cases import MOST_ENTRIES
from sparkwright.shop.evidence import MOST_RECORDS
from sparkwright.shop.facts import AttachmentKind
from sparkwright.shop.revision_rows import MOST_NUMBER

MOST_TEXTS = 20_000
Number = Annotated[int, Field(ge=1, le=MOST_NUMBER)]
Moment = Annotated[
    AwareDatetime, Field(ge=datetime(1980, 1, 1, tzinfo=UTC), lt=datetime(2200, 1, 1, tzinfo=UTC))
]
"""A moment that can be said in the time of any place; the ends of the calendar can't."""
TextName = Annotated[str, Field(pattern=r"^(revisions|kept)/[0-9]{4,}\.toml$", max_length=80)]
FileName = Annotated[str, Field(pattern=r"^attachments/[0-9a-f]{64}$")]


Word = Annotated[str, Field(pattern=r"^[a-z0-9-]*$", max_length=40)]
"""A word of the desk's files, of this version of the program or another; "" where none stands."""


class ArchivedPart(BaseModel):
    """Nothing but the keys that are known."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ArchivedRevision(ArchivedPart):
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


class ArchivedKept(ArchivedPart):
    """A text kept beside the job, as a member of its own."""

    file: TextName
    when: Moment
    who: str
    why: str
    based_on: Number


class ArchivedEvidence(ArchivedPart):
    """One thing that was seen; the last three tell of its withdrawal."""

    kind: str = Field(pattern=r"^[a-z]+(-[a-z]+)*$", max_length=20)
    version: Number
    fields: dict[str, JsonValue]
    when: Moment
    who: str
    withdrawn_when: Moment | None
    withdrawn_by: str | None
    withdrawn_why: str


class ArchivedReading(ArchivedPart):
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


class ArchivedAttachment(ArchivedPart):
    """An attached file; its bytes are a member of its own."""

    name: str
    kind: AttachmentKind
    file: FileName
    when: Moment
    who: str


class ArchivedEntry(ArchivedPart):
    """One thing that was said in a case of the desk; ``withdraws`` counts its entries from 1."""

    kind: EntryKind
    question: Word
    answer: Word
    text: str
    withdraws: Annotated[int, Field(ge=1, le=MOST_ENTRIES)] | None
    when: Moment
    who: str


class ArchivedCase(ArchivedPart):
    """A case of the desk that is about this job."""

    name: str
    when: Moment
    who: str
    entries: tuple[ArchivedEntry, ...] = Field(max_length=MOST_ENTRIES)


class _Told(ArchivedPart):
    key: str = Field(max_length=80)
    revisions: tuple[ArchivedRevision, ...] = Field(min_length=1, max_length=MOST_TEXTS)
    kept: tuple[ArchivedKept, ...] = Field(max_length=MOST_TEXTS)
    attachments: tuple[ArchivedAttachment, ...] = Field(max_length=MOST_TEXTS)


class SecondHistory(_Told):
    """What an archive of the second schema holds."""

    evidence: tuple[ArchivedEvidence, ...] = Field(max_length=MOST_RECORDS)

    def history(self) -> History:
        """Give it as it is written today."""
        return History.model_construct(None, **dict(self), cases=())


class History(SecondHistory):
    """Everything that the store knows of a job beside its texts and files."""

    cases: tuple[ArchivedCase, ...] = Field(max_length=MOST_TEXTS)

    def history(self) -> History:
        """Give it as it stands."""
        return self


class FirstHistory(_Told):
    """The same in an archive of the first schema."""

    readings: tuple[ArchivedReading, ...] = Field(max_length=MOST_RECORDS)

    def history(self) -> History:
        """Give it as it is written today."""
        told = {name: getattr(self, name) for name in _Told.model_fields}
        seen = tuple(each.evidence() for each in self.readings)
        return History.model_construct(None, **told, evidence=seen, cases=())


FORMS: dict[str, type[FirstHistory] | type[SecondHistory]] = {
    "urn:sparkwright:job-archive:3": History,
    "urn:sparkwright:job-archive:2": SecondHistory,
    "urn:sparkwright:job-archive:1": FirstHistory,
}
"""What an archive of each schema holds, the newest first."""
