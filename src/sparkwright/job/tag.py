"""What hangs on a key of the job beside its description: its words on a page, and where it is asked for.

A tag stands in the annotation of a field, a heading in that of a section; faces read them there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from pydantic.fields import FieldInfo

from sparkwright.errors import Phrase


@dataclass(frozen=True)
class Tag:
    """What faces tell of one key, and how readily they ask for it.

    Parameters
    ----------
    label : str
        Its words, where the key alone would not read well; they are made from the key otherwise.
    hint : str or Phrase, optional
        What stands under the label where a page has to say it otherwise than the job file does.
    unit : str
        The unit that a page shows, where the key's ending doesn't say it.
    answers : mapping
        Words of the answers to choose from, where the answer alone would not read well.
    first : bool
        Shown among the keys that must be given though it may be left out: most jobs state it.
    starter : bool
        The same, and stated by a starter file, so that the file is complete as it stands.
    asked_anew : bool
        Asked for as if it must be given, though a job kept before may be without it.
    often : int
        How much people ask what it would change: the higher, the further up; 0 is seldom. A choice.
    """

    label: str = ""
    hint: str | Phrase | None = None
    unit: str = ""
    answers: Mapping[Any, str] = field(default_factory=dict)
    first: bool = False
    starter: bool = False
    asked_anew: bool = False
    often: int = 0

    @property
    def stands_first(self) -> bool:
        """Whether a page shows it among the keys that must be given."""
        return self.first or self.starter or self.asked_anew


@dataclass(frozen=True)
class Heading:
    """The title of a section on the page that asks for it.

    Parameters
    ----------
    title : str
        The title.
    page : {"engine", "ignition"}
        Which page asks for it.
    about : bool
        Whether its description stands under the title, since it says more than that.
    """

    title: str
    page: Literal["engine", "ignition"] = "engine"
    about: bool = False


def tag_of(info: FieldInfo) -> Tag:
    """Give the tag of a field; an empty one where none hangs on it.

    Parameters
    ----------
    info : FieldInfo
        A model's record of the field.
    """
    return next((each for each in info.metadata if isinstance(each, Tag)), Tag())


def heading_of(info: FieldInfo) -> Heading | None:
    """Give the heading of a section; None where no page asks for it as a form.

    Parameters
    ----------
    info : FieldInfo
        The job's record of the section.
    """
    return next((each for each in info.metadata if isinstance(each, Heading)), None)
