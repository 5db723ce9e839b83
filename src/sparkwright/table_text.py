"""Words in a table for a spreadsheet, which would take some of them for a formula and run it."""

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
"""What spreadsheets calculate, and the same with an apostrophe before it, which says that it is text."""


def as_text(words: str) -> str:
    """Give words as a table's cell that no spreadsheet runs: with an apostrophe where they'd be a formula.

    Parameters
    ----------
    words : str
        The words.

    Examples
    --------
    >>> as_text("=1+1"), as_text("- retarded"), as_text("again"), as_text("'=1+1")
    ("'=1+1", "'- retarded", 'again', "''=1+1")
    """
    return f"'{words}" if _FORMULA.match(words) else words


def from_text(cell: str) -> str:
    """Give the words of a cell that `as_text` made.

    Parameters
    ----------
    cell : str
        What stands in the cell.

    Examples
    --------
    >>> from_text("'=1+1"), from_text("''=1+1"), from_text("'again'")
    ('=1+1', "'=1+1", "'again'")
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell
