"""Changes of cells set by hand, in a few words."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.edit.map_changes import called
from sparkwright.edit.set_cells import Changes
from sparkwright.plan.result import OverCeiling
from sparkwright.words.loads import load_text
from sparkwright.words.parts import sentence_case


def changes_in_words(changes: Changes) -> str:
    """Say in a few words what a save changes, for the history where the person gives no reason.

    Parameters
    ----------
    changes : Changes
        What the save changes.

    Examples
    --------
    >>> changes_in_words(Changes(1, 0, (1000.0, 90.0, 12.0)))
    'Set 1,000 rpm, 90 kPa to 12 deg by hand'
    """
    if changes.only is not None:
        rpm, kpa, advance_deg = changes.only
        return f"Set {rpm:,.0f} rpm, {load_text(kpa)} kPa to {advance_deg:g} deg by hand"
    said = []
    if changes.set_by_hand:
        said.append(f"set {_cells(changes.set_by_hand)} by hand")
    if changes.given_back:
        said.append(f"gave {_cells(changes.given_back)} back to the plan")
    return sentence_case(" and ".join(said or ["gave reasons for cells set by hand"]))


def pending_in_words(changed: int, unexplained: Sequence[OverCeiling]) -> str:
    """Say how the changes of a map stand before they are saved.

    Parameters
    ----------
    changed : int
        How many cells are changed.
    unexplained : sequence of OverCeiling
        Cells among them that stand over a ceiling without a reason.

    Examples
    --------
    >>> pending_in_words(2, [OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, None, None)])
    '2 cells changed, not saved yet. 2,400 rpm, 85 kPa: 31 deg stands over knock (28.5); it needs a reason.'
    """
    if not changed:
        return "Nothing is changed."
    said = f"{_cells(changed)} changed, not saved yet."
    if not unexplained:
        return said
    others = len(unexplained) - 1
    more = (
        f" and {_cells(others)} more over a ceiling; they need a reason."
        if others
        else "; it needs a reason."
    )
    return f"{said} {called(unexplained[0])}{more}"


def _cells(count: int) -> str:
    return "1 cell" if count == 1 else f"{count} cells"
