"""What was taken where the job says nothing, in words for who doesn't read the job's file."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.check.assumed import Assumed
from sparkwright.job.names import FIELDS, answer_in_words, label_of, unit_of
from sparkwright.job.tag import tag_of
from sparkwright.plan.worth import measure_first
from sparkwright.reading import number_or_none


def assumed_words(items: Sequence[Assumed]) -> list[str]:
    """Say what was taken, each once, what matters most first.

    Examples
    --------
    >>> taken = [Assumed("engine.swirl", "1", "usual"), Assumed("distributor.tip_width", "6.0 mm", "usual")]
    >>> assumed_words([*taken, Assumed("controller.min_deg", "0", "usual")])
    ['Tip width 6.0 mm', 'Swirl 1', 'Least advance the controller takes 0 deg']
    """
    by_field = {each.field: each.value for each in items}
    first = [each.field for each in measure_first(items, most=len(by_field))]
    return [_said(field, by_field[field]) for field in dict.fromkeys((*first, *by_field))]


def _said(field: str, value: str) -> str:
    """Say one of them: its label, its value, and the unit of a plain number."""
    info = FIELDS.get(field)
    if info is not None and value in tag_of(info).answers:
        return f"{label_of(field)} {answer_in_words(info, value)}"
    if number_or_none(value) is None:
        return f"{label_of(field).removesuffix(f', {unit_of(field)}')} {value}"
    label, _, unit = label_of(field).partition(", ")
    return f"{label} {value} {unit}".rstrip().replace(" percent", " %")
