"""What the store gives: plain frozen records, and what the list of jobs shows of a job."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Literal

from sparkwright.check.engine_words import engine_in_words
from sparkwright.job import Job

AttachmentKind = Literal["readings", "drive", "other"]
Mark = Literal["done", "look"]


@dataclass(frozen=True)
class JobLine:
    """One line of the list of jobs: what its latest revision says.

    ``when`` is in UTC; ``imported_by`` is None for a job that was started here. ``mark`` and ``words`` say
    how it stood when this version of the program last worked it out; None and "" where it never did.
    """

    key: str
    name: str
    engine: str
    vehicle: str | None
    customer: str | None
    invented: bool
    number: int
    when: datetime
    who: str
    handed_over: bool
    mark: Mark | None
    words: str
    imported_by: str | None


@dataclass(frozen=True)
class RevisionLine:
    """One revision without its text.

    ``when`` is in UTC. ``handed_over_by``, ``handed_over_when`` and ``signed_for`` are None and
    ``acknowledged`` is empty until it is handed over.
    """

    key: str
    number: int
    name: str
    fingerprint: str
    when: datetime
    who: str
    why: str
    handed_over: bool
    handed_over_by: str | None
    handed_over_when: datetime | None
    signed_for: str | None
    acknowledged: tuple[str, ...]


@dataclass(frozen=True)
class Revision(RevisionLine):
    """One revision of a job: the job file as it was given, with who, when and why."""

    text: str

    @property
    def job(self) -> Job:
        """The facts of this revision.

        Raises
        ------
        Refusal
            If this version of the program no longer understands the text.
        """
        return read_job(self.text)


@dataclass(frozen=True)
class KeptText:
    """A text that was refused since somebody else had saved before; kept until somebody drops it."""

    id: int
    text: str
    who: str
    why: str
    when: datetime
    based_on: int


@dataclass(frozen=True)
class Attachment:
    """A file that belongs to a job, kept byte for byte; ``sha256`` is of its bytes, ``size`` counts them."""

    id: int
    key: str
    name: str
    kind: AttachmentKind
    size: int
    sha256: str
    when: datetime
    who: str
    has_columns: bool


@dataclass(frozen=True)
class Holding:
    """What a store holds of one job; ``turn`` rises with every change, ``handed_over`` counts signatures."""

    key: str
    name: str
    turn: int
    revisions: int
    handed_over: int
    kept_texts: int
    evidence: int
    files: int
    cases: int = 0


LogKind = Literal["sign-in", "wrong try", "import", "download", "backup", "removal", "taken back", "put back"]


@dataclass(frozen=True)
class LogLine:
    """One line of the record of who came and what left.

    ``place`` is an address, or "this machine"; ``who`` is what the person calls themselves, where that is
    known; ``key`` names the job, and is None where there was none or it was removed since.
    """

    when: datetime
    kind: LogKind
    place: str
    who: str | None
    key: str | None
    about: str


@lru_cache(maxsize=256)
def read_job(text: str) -> Job:
    """Read a text that was taken before; a job is frozen, so those who ask again share it.

    What is asked only since then stays open in it, so that every revision can be read and planned.

    Parameters
    ----------
    text : str
        Text of a revision.

    Raises
    ------
    Refusal
        With one problem for each thing that keeps it from being used.
    """
    return Job.from_toml(text, kept=True)


def shown_in_list(job: Job) -> dict[str, object]:
    """Give the columns of the list of jobs, so that it needs no job's text.

    Parameters
    ----------
    job : Job
        What the newest revision states.
    """
    vehicle, customer, plate = (
        (job.customer.vehicle, job.customer.name, job.customer.plate) if job.customer else (None, None, None)
    )
    engine = engine_in_words(job.engine)
    words = (job.name, engine, vehicle, customer, plate)
    return {
        "name": job.name,
        "engine": engine,
        "vehicle": vehicle,
        "customer": customer,
        "invented": job.invented,
        "search": "\n".join(word.casefold() for word in words if word),
    }


def slug(name: str, most: int = 60) -> str:
    """Make a job's key from its name: lower-case letters, digits and hyphens, or "job" where none are left.

    Parameters
    ----------
    name : str
        Name of the job as a person gave it.
    most : int, optional
        How many characters at most.

    Examples
    --------
    >>> slug("Pump house V8"), slug("Zündung, 2. Anlauf"), slug("***")
    ('pump-house-v8', 'zundung-2-anlauf', 'job')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:most].strip("-") or "job"
