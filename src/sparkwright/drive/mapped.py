"""Which channel is what, by name, unit and behaviour, each with how sure that is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.drive.quantities import (
    BY_NAME,
    QUANTITIES,
    Quantity,
    line_into,
    parted_name,
    spelt,
    words_of,
)
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray

SURE, LIKELY, PERHAPS = 0.95, 0.75, 0.5
"""How sure a name alone makes it, by how particular it is; choices."""
LEAST_SURE = 0.4
"""Below it nothing is taken without asking; a choice."""


@dataclass(frozen=True)
class Column:
    """One column as a file has it: heading, unit, and the numbers of its first rows, nan where none."""

    name: str
    unit: str
    first: FloatArray


@dataclass(frozen=True)
class Mapped:
    """What a column was taken for.

    Parameters
    ----------
    column : str
        Its heading, as written.
    quantity : str
        A key of quantities; "" where it is none that is known, and kept as it stands.
    unit : str
        The unit that it was read in; "" where it says none.
    scale, offset : float
        The value inside is `scale` times the value written, plus `offset`.
    confidence : float
        How sure that is, 0 to 1; 1 where a person said it.
    why : tuple of str
        What it was gone by: "said", "remembered", "name", "unit", "behaviour", "unit guessed".
    """

    column: str
    quantity: str
    unit: str
    scale: float
    offset: float
    confidence: float
    why: tuple[str, ...]


def mapped_columns(
    columns: Sequence[Column],
    said: Mapping[str, str],
    units_said: Mapping[str, str],
    remembered: bool = False,
) -> tuple[Mapped, ...]:
    """Take each column for something, each quantity once.

    Parameters
    ----------
    columns : sequence of Column
        As the file has them.
    said : mapping
        Quantity to column, as the person said it.
    units_said : mapping
        Column to unit, likewise.
    remembered : bool
        Whether they were said before, about this logger.

    Raises
    ------
    Refusal
        If what was said names a column, quantity or unit that isn't there.
    """
    _require_there(columns, said, units_said)
    by_column = {column: quantity for quantity, column in said.items()}
    ranked: list[tuple[float, int, Mapped]] = []
    for place, column in enumerate(columns):
        if column.name in by_column:
            found = _as_said(column, BY_NAME[by_column[column.name]], units_said, remembered)
        else:
            found = _guessed(column, units_said.get(column.name, ""), frozenset(said))
        ranked.append((-found.confidence, place, found))
    taken: set[str] = set()
    result: list[Mapped] = [each[2] for each in ranked]
    for _, place, found in sorted(ranked, key=lambda each: each[:2]):
        if not found.quantity:
            continue
        if found.quantity in taken:
            unit = parted_name(columns[place].name, columns[place].unit)[1]
            result[place] = Mapped(columns[place].name, "", unit, 1.0, 0.0, 0.0, ("name taken",))
        taken.add(found.quantity)
    return tuple(_by_behaviour(columns, result))


def _require_there(columns: Sequence[Column], said: Mapping[str, str], units_said: Mapping[str, str]) -> None:
    names = [each.name for each in columns]
    for quantity, column in said.items():
        if quantity not in BY_NAME:
            raise Refusal.at("--channel", f"{quantity}={column}", f"must name one of {', '.join(BY_NAME)}")
        if column not in names:
            raise Refusal.at(
                "--channel", f"{quantity}={column}", f"must name a column: {', '.join(names[:40])}"
            )
    for column, unit in units_said.items():
        if column not in names:
            raise Refusal.at("--unit", f"{column}={unit}", f"must name a column: {', '.join(names[:40])}")


def _as_said(column: Column, quantity: Quantity, units_said: Mapping[str, str], remembered: bool) -> Mapped:
    given = units_said.get(column.name, "")
    unit = spelt(given or parted_name(column.name, column.unit)[1])
    line = line_into(quantity, unit)
    if line is None and given:
        raise Refusal.at(
            "--unit", f"{column.name}={given}", f"must be a unit of {quantity.called}", "as rpm, kPa, deg"
        )
    if line is None:
        unit, line = "", (1.0, 0.0)
    why = ("remembered",) if remembered else ("said",)
    return _with_plausible_unit(column, quantity, Mapped(column.name, quantity.name, unit, *line, 1.0, why))


def _guessed(column: Column, unit_said: str, not_again: frozenset[str]) -> Mapped:
    words, unit = parted_name(column.name, column.unit)
    whole = words_of(column.name)
    unit = spelt(unit_said) if unit_said else unit
    for quantity in QUANTITIES:
        if quantity.name in not_again:
            continue
        for rank, pattern in zip((SURE, LIKELY, PERHAPS), quantity.words, strict=False):
            if not any(re.fullmatch(pattern, each) for each in (words, whole, column.name.strip().lower())):
                continue
            line = line_into(quantity, unit)
            if line is None:
                break
            named = Mapped(
                column.name, quantity.name, unit, *line, rank, ("name", "unit") if unit else ("name",)
            )
            found = _with_plausible_unit(column, quantity, named)
            if found.confidence >= LEAST_SURE:
                return found
            break
    return Mapped(column.name, "", unit, 1.0, 0.0, 0.0, ())


def _with_plausible_unit(column: Column, quantity: Quantity, found: Mapped) -> Mapped:
    """Hold the first numbers against what the quantity may read; where the unit isn't said, try others."""
    values = column.first[np.isfinite(column.first)]
    if not values.size or quantity.name == "time_s":
        return found
    if found.unit:
        share = _plausible(quantity, found.scale * values + found.offset)
        return (
            found if share > 0.5 or "said" in found.why else replace(found, confidence=0.3 * found.confidence)
        )
    guessed = _unit_by_behaviour(quantity, values)
    if guessed:
        line = line_into(quantity, guessed)
        assert line is not None
        return replace(
            found,
            unit=guessed,
            scale=line[0],
            offset=line[1],
            confidence=min(found.confidence, LIKELY),
            why=(*found.why, "unit guessed"),
        )
    share = _plausible(quantity, values)
    return (
        found if share > 0.5 or found.confidence == 1.0 else replace(found, confidence=0.3 * found.confidence)
    )


def _unit_by_behaviour(quantity: Quantity, values: FloatArray) -> str:
    """Guess a unit that isn't written where the numbers leave little doubt; "" where it is the one inside."""
    middle, top = float(np.median(values)), float(np.max(values))
    if quantity.name == "map_kpa" and top <= 4.5 and middle > 0.1:
        return "bar"
    if quantity.name == "map_kpa" and middle > 5000.0:
        return "Pa"
    if quantity.name == "map_kpa" and 450.0 < top < 5000.0:
        return "mbar"
    if quantity.name == "mixture_lambda" and 7.0 < middle < 30.0:
        return "afr"
    if quantity.name == "coolant_c" and middle > 130.0:
        return "degF" if middle < 260.0 else "K"
    if quantity.name == "battery_v" and middle > 5000.0:
        return "mV"
    if quantity.name in ("dwell_ms", "dwell_asked_ms") and middle > 100.0:
        return "us"
    return ""


def _plausible(quantity: Quantity, values: FloatArray) -> float:
    return float(np.mean((values >= quantity.low) & (values <= quantity.high)))


def _by_behaviour(columns: Sequence[Column], found: Sequence[Mapped]) -> list[Mapped]:
    """Take columns without a name that says anything for what they behave like: time and speed, no more.

    Time never falls and grows evenly; engine speed runs through hundreds to thousands. Pressure and advance
    are too alike to be told by their numbers.
    """
    result = list(found)
    taken = {each.quantity for each in found}
    for name, behaves in (("time_s", _like_time), ("rpm", _like_speed)):
        if name in taken:
            continue
        alike = [
            place
            for place, (column, each) in enumerate(zip(columns, result, strict=True))
            if not each.quantity and not _says_something(column) and behaves(column.first)
        ]
        if len(alike) == 1:
            (place,) = alike
            result[place] = Mapped(columns[place].name, name, "", 1.0, 0.0, PERHAPS, ("behaviour",))
    return result


def _says_something(column: Column) -> bool:
    return re.fullmatch(r"(column|ch|channel|field|unnamed:?)? ?\d+", column.name.strip().lower()) is None


def _like_time(values: FloatArray) -> bool:
    steps = np.diff(values[np.isfinite(values)])
    return (
        steps.size > 2
        and bool(np.all(steps >= 0))
        and bool(np.median(steps) > 0)
        and bool(np.max(steps) < 20 * np.median(steps))
    )


def _like_speed(values: FloatArray) -> bool:
    values = values[np.isfinite(values)]
    return (
        values.size > 2
        and float(np.min(values)) >= 0.0
        and 400.0 < float(np.percentile(values, 90)) < 12000.0
    )
