"""The text of a job as a person typed it: a change goes to its own place, and the rest stays as it is."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cached_property
from typing import Any, TypeAlias

from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.job import toml
from sparkwright.job.model import ONE_A_LINE, Job
from sparkwright.job.spans import Block, Entry, blocks, elements

Keys: TypeAlias = Mapping[str, Any]

BEYOND_CHANGE = Problem(
    "the job file",
    WHOLE,
    "is laid out so that it can't be changed here without spoiling what stands in it",
    "make this change in the text itself",
)

NEVER_MOVED = ("hand",)
"""Lists whose tables are others at another speed or load; a peg that is moved is the same peg."""

_REST_OF_LINE = re.compile(r"[ \t]*+(,?)[ \t]*+(?:#[^\n]*+)?\r?\n")
_INDENT = re.compile(r"[ \t]*+")
_BLANK_LINE = re.compile(r"[ \t\r]*+\n")


@dataclass(frozen=True)
class JobText:
    r"""The text of a job file, and the job that it states.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> text = JobText(starter_text().replace("cylinders =", "cylinders=") + "# seen\n")
    >>> changed = text.changed("engine", bore="3.9 in").text.splitlines()
    >>> 'bore = "3.9 in"' in changed, "cylinders= 8" in changed, changed[-1]
    (True, True, '# seen')
    """

    text: str
    kept: bool = False
    """Whether the text was taken before: what is asked only since then may stay open in it."""

    @classmethod
    def begun(cls, facts: Keys) -> JobText:
        """Write a new job's text from what was typed, in the order of the starter file.

        Parameters
        ----------
        facts : Keys
            Values as they were typed, by section and key.

        Raises
        ------
        Refusal
            As from a file.
        """
        stated = Job.from_facts(dict(facts)).facts()
        return cls(toml.dump(_as_typed(stated, facts), one_a_line=ONE_A_LINE))

    @cached_property
    def job(self) -> Job:
        """What the text states."""
        return Job.from_toml(self.text, kept=self.kept)

    def facts(self) -> dict[str, Any]:
        """Give what the text states, by section and key, in the units in which it was typed.

        Examples
        --------
        >>> JobText('engine.bore = "4.00 in"').facts()
        {'engine': {'bore': '4.00 in'}}
        """
        return toml.tables(self.text, "the job")

    def changed(self, section: str, **values: Any) -> JobText:
        """Give the text with values of one section replaced, written as in the file; None takes one out.

        Parameters
        ----------
        section : str
            Section of the job, such as "engine".

        Raises
        ------
        Refusal
            As from a file.
        """
        facts = self.facts()
        merged = {**facts.get(section, {}), **values}
        facts[section] = {key: value for key, value in merged.items() if value is not None}
        return self.stating(facts)

    def stating(self, facts: Keys) -> JobText:
        """Give the text changed until it states these facts and no others.

        What reads the same as before is left as it was typed, with its spaces and comments; what is new or
        other is written as it is given here. With a section that is taken out goes what stands between its
        header and its last key.

        Parameters
        ----------
        facts : mapping
            By section and key, as a job file holds them.

        Raises
        ------
        Refusal
            As from a file.
        """
        before, after = self.job.facts(), Job.from_facts(dict(facts), kept=self.kept).facts()
        if before == after:
            return self
        changed = JobText(_Change(self.text).made(before, after, facts), self.kept)
        if not changed._states(after):
            raise Refusal([BEYOND_CHANGE])
        return changed

    def _states(self, facts: Keys) -> bool:
        try:
            return self.job.facts() == facts
        except Refusal:
            return False


def _as_typed(stated: Any, typed: Any) -> Any:
    """Give values as they were typed, in the order in which a job states them."""
    if isinstance(stated, dict):
        return {key: _as_typed(value, typed[key]) for key, value in stated.items()}
    if isinstance(stated, list):
        return [_as_typed(one, other) for one, other in zip(stated, typed, strict=True)]
    return typed


# What becomes of the elements of a list


@dataclass(frozen=True)
class _Stays:
    """An element that stays, changed or not: its place before and after."""

    old: int
    new: int


@dataclass(frozen=True)
class _Goes:
    """Elements that are taken out."""

    old: range


@dataclass(frozen=True)
class _Comes:
    """New elements, and the element that they stand behind, -1 for none."""

    behind: int
    new: range


def _matched(
    old: Sequence[Any], new: Sequence[Any], *, may_move: bool = True
) -> Iterator[_Stays | _Goes | _Comes]:
    """Say what becomes of each element; a table is the same one where its speed and load are.

    Numbers of a list that grows no longer and no shorter change where they stand. With ``may_move`` a table
    is also the same one where it stands in the place of another.
    """
    if len(old) == len(new) and not any(isinstance(each, dict | list) for each in old):
        yield from (_Stays(place, place) for place in range(len(old)))
        return
    matcher = SequenceMatcher(None, list(map(_name, old)), list(map(_name, new)), autojunk=False)
    for tag, old_start, old_end, new_start, new_end in matcher.get_opcodes():
        # Ahead of all that stays there is nothing to put new ones behind: they take a place there.
        takes_place = may_move or tag == "equal" or old_start == 0
        both = min(old_end - old_start, new_end - new_start) if takes_place else 0
        yield from (_Stays(old_start + place, new_start + place) for place in range(both))
        if old_start + both < old_end:
            yield _Goes(range(old_start + both, old_end))
        if new_start + both < new_end:
            yield _Comes(old_start + both - 1, range(new_start + both, new_end))


def _name(element: Any) -> str:
    named = [element.get("rpm"), element.get("kpa")] if isinstance(element, dict) else element
    return json.dumps(named)


class _Change:
    """A text, and the pieces to be put in place of others, which are found in it as it was before.

    Methods take what the text states (``old``) and must state (``new``), as `Job.facts` gives them, and the
    latter as it was typed (``typed``).
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.loose, *self.headed = blocks(text)
        line_end = text.find("\n")
        self.newline = "\r\n" if line_end > 0 and text[line_end - 1] == "\r" else "\n"
        self.pieces: list[tuple[int, int, str]] = []
        self.new_sections: list[list[str]] = []

    def made(self, old: Keys, new: Keys, typed: Keys) -> str:
        """Give the text with every change in its place."""
        for attribute in Job.model_fields:
            name = Job.key(attribute)
            before, after = old.get(name), new.get(name)
            if before == after:
                continue
            if isinstance(before if after is None else after, dict):
                self._section(name, before or {}, after, typed.get(name, {}))
            elif Job.field_kind(attribute) is None:
                self._tables(name, before or [], after, typed.get(name, []))
            else:
                self._loose_key(name, old, new, typed)
        return self._with_new_sections(self._spliced())

    # What stands above all sections, sections, and lists of tables

    def _loose_key(self, name: str, old: Keys, new: Keys, typed: Keys) -> None:
        old, new, typed = ({name: each[name]} if name in each else {} for each in (old, new, typed))
        entries = [each for each in self.loose.entries if len(each.path) == 1]
        self._lines(entries, self.loose.end, "", old, new, typed)

    def _section(self, name: str, old: Keys, new: Keys | None, typed: Keys) -> None:
        block = next((each for each in self.headed if each.name == name), None)
        braces = self._loose(name)
        dotted = [each for each in self.loose.entries if each.path[0] == name]
        if new is None:
            self._take_out(name)
        elif block is not None:
            self._lines(block.entries, block.end, "", old, new, typed)
        elif braces is not None:
            self._braces(braces, old, new, typed)
        elif dotted and new:
            self._lines(dotted, dotted[-1].end, f"{name}.", old, new, typed)
        else:
            self._take_out(name)
            self.new_sections.append(toml.section(f"[{name}]", {key: typed[key] for key in new}))

    def _tables(self, name: str, old: Sequence[Keys], new: Sequence[Keys] | None, typed: Any) -> None:
        headed = [each for each in self.headed if each.name == name]
        brackets = self._loose(name)
        may_move = name not in NEVER_MOVED
        stay = may_move or not set(map(_name, old)).isdisjoint(map(_name, new or []))
        if new is None:
            self._take_out(name)
        elif headed and new and stay:
            self._headed_tables(headed, old, new, typed, may_move)
        elif brackets is not None and old and new and stay:
            self._list(brackets, old, new, typed, may_move)
        else:
            self._take_out(name)
            if new and name not in ONE_A_LINE:
                self.new_sections += [toml.section(f"[[{name}]]", table) for table in typed]
            else:
                self._put_lines(self.loose.end, [f"{name} = {toml.list_value(typed)}"])

    def _headed_tables(
        self,
        headed: Sequence[Block],
        old: Sequence[Keys],
        new: Sequence[Keys],
        typed: Sequence[Keys],
        may_move: bool,
    ) -> None:
        for step in _matched(old, new, may_move=may_move):
            match step:
                case _Stays():
                    block = headed[step.old]
                    self._lines(block.entries, block.end, "", old[step.old], new[step.new], typed[step.new])
                case _Goes():
                    for place in step.old:
                        self._drop(headed[place])
                case _Comes():
                    sections = [toml.section(f"[[{headed[0].name}]]", typed[place]) for place in step.new]
                    if step.behind < 0:
                        lines = [line for section in sections for line in (*section, "")]
                        self._put_lines(headed[0].start, lines)
                    else:
                        lines = [line for section in sections for line in ("", *section)]
                        self._put_lines(headed[step.behind].end, lines)

    def _loose(self, name: str) -> Entry | None:
        return next((each for each in self.loose.entries if each.path == (name,)), None)

    def _take_out(self, name: str) -> None:
        for entry in self.loose.entries:
            if entry.path[0] == name:
                self._put(entry.start, entry.end, "")
        for block in self.headed:
            if block.name == name:
                self._drop(block)

    def _drop(self, block: Block) -> None:
        """Take a block out, with the blank line above where one follows, so that one is left."""
        start = block.start
        line_above = self.text.rfind("\n", 0, max(start - 1, 0)) + 1
        if _BLANK_LINE.fullmatch(self.text, line_above, start) and (
            block.end == len(self.text) or _BLANK_LINE.match(self.text, block.end)
        ):
            start = line_above
        self._put(start, block.end, "")

    # Keys and values

    def _lines(
        self, entries: Sequence[Entry], behind: int, prefix: str, old: Keys, new: Keys, typed: Keys
    ) -> None:
        """Change keys that stand on lines of their own; new ones go to the line behind the last."""
        standing = {each.path[-1]: each for each in entries}
        for key, before in old.items():
            if key not in new:
                self._put(standing[key].start, standing[key].end, "")
            elif new[key] != before:
                self._value(standing[key], before, new[key], typed[key])
        indent = _INDENT.match(self.text, entries[-1].start)[0] if entries else ""  # type: ignore[index]
        added = [f"{indent}{toml.assigned(prefix + key, typed[key])}" for key in new if key not in old]
        if added:
            self._put_lines(behind, added)

    def _braces(self, entry: Entry, old: Keys, new: Keys, typed: Keys) -> None:
        """Change keys that stand within the braces of one line."""
        standing = {each.path[-1]: each for each in elements(self.text, entry.value_start, entry.value_end)}
        if old.keys() == new.keys():
            for key in old:
                if old[key] != new[key]:
                    self._value(standing[key], old[key], new[key], typed[key])
            return
        written = [
            self.text[standing[key].start : standing[key].end]
            if key in old and old[key] == new[key]
            else toml.assigned(key, typed[key])
            for key in [*(key for key in standing if key in new), *(key for key in new if key not in old)]
        ]
        self._put(entry.value_start, entry.value_end, "{ " + ", ".join(written) + " }" if written else "{}")

    def _value(self, entry: Entry, old: Any, new: Any, typed: Any) -> None:
        # An order of cylinders is a list of the job, and may stand in the text as "1-5-7-2-6-3-4-8".
        in_brackets = isinstance(typed, list) and self.text[entry.value_start] == "["
        if in_brackets and old and new:
            self._list(entry, old, new, typed)
        else:
            self._put(entry.value_start, entry.value_end, toml.value_text(typed))

    # Elements of a list

    def _list(
        self,
        entry: Entry,
        old: Sequence[Any],
        new: Sequence[Any],
        typed: Sequence[Any],
        may_move: bool = True,
    ) -> None:
        standing = elements(self.text, entry.value_start, entry.value_end)
        for step in _matched(old, new, may_move=may_move):
            match step:
                case _Stays():
                    self._element(standing[step.old], old[step.old], new[step.new], typed[step.new])
                case _Goes():
                    self._without(standing, step.old)
                case _Comes():
                    added = [toml.value_text(typed[place]) for place in step.new]
                    if step.behind < 0:
                        self._before_all(standing[0], added)
                    else:
                        self._behind(standing[step.behind], step.behind == len(standing) - 1, added)

    def _element(self, entry: Entry, old: Any, new: Any, typed: Any) -> None:
        if old == new:
            return
        if isinstance(old, dict):
            self._braces(entry, old, new, typed)
        else:
            self._put(entry.start, entry.end, toml.value_text(typed))

    def _without(self, standing: Sequence[Entry], gone: range) -> None:
        """Take elements out: their lines, where they have lines of their own."""
        lines = [self._own_line(standing[place], place == len(standing) - 1) for place in gone]
        if all(lines):
            for line in lines:
                assert line is not None
                self._put(*line, "")
        elif gone.stop < len(standing):
            self._put(standing[gone.start].start, standing[gone.stop].start, "")
        else:
            self._put(standing[gone.start - 1].end, standing[gone.stop - 1].end, "")

    def _own_line(self, entry: Entry, last: bool) -> tuple[int, int] | None:
        """Give the line of an element that has one for itself, with its comma."""
        start = self._line_start(entry)
        rest = _REST_OF_LINE.match(self.text, entry.end)
        if rest is None or not (rest[1] or last) or self.text[start : entry.start].strip():
            return None
        return start, rest.end()

    def _line_start(self, entry: Entry) -> int:
        return self.text.rfind("\n", 0, entry.start) + 1

    def _before_all(self, first: Entry, added: Sequence[str]) -> None:
        between = (
            f"\n{self.text[self._line_start(first) : first.start]}" if self._own_line(first, True) else " "
        )
        self._put(first.start, first.start, "".join(f"{each},{between}" for each in added))

    def _behind(self, entry: Entry, last: bool, added: Sequence[str]) -> None:
        """Put elements behind another, on lines of their own where that one ends its line."""
        rest = _REST_OF_LINE.match(self.text, entry.end)
        if rest is None or not (rest[1] or last):
            self._put(entry.end, entry.end, "".join(f", {each}" for each in added))
            return
        if not rest[1]:
            self._put(entry.end, entry.end, ",")
        indent = _INDENT.match(self.text, self._line_start(entry))[0]  # type: ignore[index]
        self._put(rest.end(), rest.end(), "".join(f"{indent}{each},\n" for each in added))

    # Pieces put together

    def _put(self, start: int, end: int, piece: str) -> None:
        self.pieces.append((start, end, piece))

    def _put_lines(self, place: int, lines: Sequence[str]) -> None:
        """Put whole lines where a line ends; the last line of a text may have no end."""
        self._put(place, place, _whole_lines(self.text[place - 1 : place], lines))

    def _spliced(self) -> str:
        """Put the pieces in; of two at one place the one that was asked for first comes first."""
        found, place = [], 0
        for start, end, piece in sorted(self.pieces, key=lambda each: each[:2]):
            found += [self.text[place:start], self._with_line_ends(piece)]
            place = end
        return "".join([*found, self.text[place:]])

    def _with_new_sections(self, text: str) -> str:
        for lines in self.new_sections:
            between = [] if text.endswith(("\n\n", "\n\r\n")) else [""]
            text += self._with_line_ends(_whole_lines(text, [*between, *lines]))
        return text

    def _with_line_ends(self, piece: str) -> str:
        return piece.replace("\r\n", "\n").replace("\n", self.newline)


def _whole_lines(before: str, lines: Sequence[str]) -> str:
    """Join lines to stand behind others: the last has no line end where the one before it has none."""
    joined = "\n".join(lines)
    return f"{joined}\n" if not before or before.endswith("\n") else f"\n{joined}"
