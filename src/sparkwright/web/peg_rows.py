"""The rows of pegs on a form: one added, one taken away, and back to the list of the job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sparkwright.web.form_names import PEG_KEYS, ROW

MOST_PEGS = 100


def row_count(form: Mapping[str, str]) -> int:
    """Give how many rows a form has.

    Parameters
    ----------
    form : mapping
        What was typed by input.
    """
    return max((int(found[1]) for name in form if (found := ROW.fullmatch(name))), default=-1) + 1


def with_rows(form: dict[str, str]) -> dict[str, str] | None:
    """Give a form with a row for a peg added or taken away; None where its button was another one.

    Parameters
    ----------
    form : dict
        What was typed by input, with the button that was pressed.

    Examples
    --------
    >>> with_rows({"do": "add a peg", "pegs.0.rpm": "800"})["pegs.1.rpm"]
    ''
    >>> with_rows({"do": "drop peg 0", "pegs.0.rpm": "800", "pegs.1.rpm": "900"})
    {'do': '', 'pegs.0.rpm': '900'}
    """
    asked = form.get("do", "")
    if asked == "add a peg":
        row = min(row_count(form), MOST_PEGS - 1)
        empty = {f"pegs.{row}.{key}": "" for key in PEG_KEYS}
        return empty | form | {"do": ""}
    dropped = asked.removeprefix("drop peg ")
    if dropped == asked or not dropped.isdecimal():
        return None
    left: dict[str, str] = {"do": ""}
    for name, text in form.items():
        found = ROW.fullmatch(name)
        if found is None:
            left.setdefault(name, text)
        elif int(found[1]) != int(dropped):
            row = int(found[1]) - (int(found[1]) > int(dropped))
            left[f"pegs.{row}.{found[2]}"] = text
    return left


def rows_typed(form: Mapping[str, str]) -> list[int]:
    """Give the rows of pegs in which anything was typed.

    Parameters
    ----------
    form : mapping
        What was typed by input.
    """
    rows = {int(found[1]) for name, text in form.items() if (found := ROW.fullmatch(name)) and text.strip()}
    return sorted(rows)


def put_rows(tables: dict[str, Any], values: Mapping[str, Any], rows: Sequence[int]) -> None:
    """Put the rows in which anything was typed into the tables of the job, in place of its pegs.

    Parameters
    ----------
    tables : dict
        Tables of the job, changed in place.
    values : mapping
        Values read, by input.
    rows : sequence of int
        Rows in which anything was typed, from 0.
    """
    pegs = [
        {
            name.rpartition(".")[2]: value
            for name, value in values.items()
            if name.startswith(f"pegs.{row}.") and value is not None
        }
        for row in rows
    ]
    tables.pop("pegs", None)
    if pegs:
        tables["pegs"] = pegs
