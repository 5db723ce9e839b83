"""Lengths and angles at a balancer, distributor or piston as people write them."""

from __future__ import annotations

from sparkwright.reading import number, quantity

MOST_LENGTH_MM = 1000.0
"""Longer than anything that is measured there; it decides how a comma is read [mm]."""


def length_mm(text: str, field: str) -> float:
    """Read a length with its unit [mm].

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        What a refusal calls it.

    Examples
    --------
    >>> length_mm('7 1/4"', "diameter"), length_mm("6,250 in", "diameter")
    (184.15, 158.75)
    """
    return quantity(text, "length", field=field, low=-MOST_LENGTH_MM, high=MOST_LENGTH_MM)


def degrees(text: str, field: str) -> float:
    """Read an angle, with or without its unit [deg].

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        What a refusal calls it.

    Examples
    --------
    >>> degrees("0,5", "read to"), degrees("20 deg", "after")
    (0.5, 20.0)
    """
    return number(text, unit="deg", low=-180.0, high=180.0, field=field)
