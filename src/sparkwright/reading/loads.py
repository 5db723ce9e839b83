"""Loads as gauges show them, turned into absolute manifold pressure."""

from math import inf

from sparkwright import units
from sparkwright.errors import Refusal
from sparkwright.reading.numbers import found_in, number, quantity, shown, tidy

_BASES = {"absolute": "absolute", "abs": "absolute", "vacuum": "vacuum", "vac": "vacuum", "boost": "boost"}
_ALSO_SHOWN = {"inHg": "vacuum", "mmHg": "vacuum", "psi": "boost", "bar": "boost"}
"""What a gauge in such a unit shows as often as absolute pressure. Common practice, no source."""


def load_kpa(
    text: str, site_kpa: float | None, *, field: str = "load", low: float = -inf, high: float = inf
) -> float:
    """Read a load: absolute, or vacuum below or boost above the air at the site.

    A plain number is absolute, in kPa, and so is a pressure in a unit that barometers and sensors have. One
    in inHg or mmHg may be vacuum as well, one in psi or bar boost: the word says which. Without it, it is
    read in the one way that the field takes, and refused where it takes both.

    Parameters
    ----------
    text : str
        `"38"`, `"57 kPa"`, `"12 inHg vacuum"`, `"8 psi boost"`, `"17 inHg absolute"`.
    site_kpa : float or None
        Air pressure at the site [kPa absolute]; None where it isn't known.
    field : str
        What to call it when it has to be refused.
    low, high : float
        What the field takes [kPa absolute].

    Returns
    -------
    float
        Manifold pressure [kPa absolute].

    Raises
    ------
    Refusal
        If it is no pressure, can be read in two ways, or needs the air at the site and that isn't known.

    Examples
    --------
    >>> round(load_kpa("12 inHg vacuum", 101.3), 1), load_kpa("57 kPa", None), load_kpa("57", None)
    (60.7, 57.0, 57.0)
    >>> load_kpa("29 inHg", 101.3, low=15, high=100) > 98
    True
    """
    pressure, _, word = tidy(text).rpartition(" ")
    base = _BASES.get(word.lower(), "")
    if not base:
        pressure = tidy(text)
    found = found_in(pressure, field)
    if found is None or not found.rest:
        if not base:
            return number(text, unit="kPa", low=low, high=high, field=field)
        raise Refusal.at(field, shown(text), "must have a unit", f'write it as "12 inHg {word.lower()}"')
    if base == "absolute":
        return quantity(pressure, "pressure", field=field, low=low, high=high)
    if base:
        return _against_site(text, pressure, base, site_kpa, field, low, high)
    return _without_word(text, pressure, found.rest, site_kpa, field, low, high)


def _against_site(
    text: str, pressure: str, base: str, site_kpa: float | None, field: str, low: float, high: float
) -> float:
    if site_kpa is None:
        raise Refusal.at(
            field, shown(text), "must be absolute where the air at the site isn't known", "state it in kPa"
        )
    if base == "vacuum":
        low, high = site_kpa - high, site_kpa - low
        return site_kpa - quantity(pressure, "pressure", field=field, low=low, high=high)
    low, high = low - site_kpa, high - site_kpa
    return site_kpa + quantity(pressure, "pressure", field=field, low=low, high=high)


def _without_word(
    text: str, pressure: str, unit: str, site_kpa: float | None, field: str, low: float, high: float
) -> float:
    """Read a pressure that doesn't say what it is measured from."""
    absolute_kpa = quantity(pressure, "pressure", field=field, low=low, high=high)
    known = units.DIMENSIONS["pressure"].find(unit)
    base = "" if known is None else _ALSO_SHOWN.get(known.name, "")
    if not base:
        return absolute_kpa
    other_kpa = None
    if site_kpa is not None:
        other_kpa = site_kpa - absolute_kpa if base == "vacuum" else site_kpa + absolute_kpa
        if not low <= other_kpa <= high:
            return absolute_kpa
        if not low <= absolute_kpa <= high:
            return other_kpa
    here = "" if other_kpa is None else f", which is {other_kpa:.1f} kPa absolute here"
    raise Refusal.at(
        field,
        shown(text),
        f"could be {absolute_kpa:.1f} kPa absolute, or {pressure} of {base}{here}",
        f'write "{pressure} absolute" or "{pressure} {base}"',
    )
