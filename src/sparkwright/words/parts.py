"""What sentences are made of: quantities in the person's units, orders of cylinders, counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeAlias

from sparkwright.findings import Length, Sentence
from sparkwright.units import DIMENSIONS, System, convert, show

Said: TypeAlias = tuple[str, str]
"""A sentence and what to do, "" where there is nothing to do."""

Writer: TypeAlias = Callable[..., Said]
"""Makes sentence and action of one kind of finding: takes the person's units and the finding's numbers."""


_DIMENSIONS = {"mm": "length", "m": "altitude"}


def length(value_mm: float, system: System, form: str = ".1f") -> str:
    """Say a length in the person's units; ``form`` is how millimetres are written.

    Parameters
    ----------
    value_mm : float
        The length [mm].
    system : System
        Units that the person reads.
    form : str, optional
        How millimetres are written, as a format of Python.

    Examples
    --------
    >>> length(3.81, "metric"), length(3.81, "inch"), length(0.9, "metric", "g")
    ('3.8 mm', '0.150 in', '0.9 mm')
    """
    return _own_units(Length(value_mm, form), system)


def in_units(sentence: Sentence | str, system: System) -> str:
    """Write a sentence out with its lengths in the person's units; one that has none may be text.

    Parameters
    ----------
    sentence : Sentence or str
        The sentence with its lengths, or text that has none.
    system : System
        Units that the person reads.

    Examples
    --------
    >>> in_units(Sentence("Move the tip {0} ahead.", (Length(3.81),)), "inch")
    'Move the tip 0.150 in ahead.'
    """
    if isinstance(sentence, str):
        return sentence
    return sentence.written(lambda part: _own_units(part, system))


def _own_units(part: Length, system: System) -> str:
    return str(part) if system == "metric" else show(part.value, _DIMENSIONS[part.unit], system)


def torque(value_nm: float, system: System, form: str = ".0f") -> str:
    """Say a torque.

    Parameters
    ----------
    value_nm : float
        The torque [N m].
    system : System
        Units that the person reads.
    form : str, optional
        How the number is written.

    Examples
    --------
    >>> torque(300.0, "metric"), torque(300.0, "inch")
    ('300 N m', '221 lb-ft')
    """
    return f"{in_own_units(value_nm, 'torque', system):{form}} {own_unit('torque', system)}"


def air_pressure(value_kpa: float, system: System) -> str:
    """Say the pressure of the air outside, as a barometer does.

    Parameters
    ----------
    value_kpa : float
        Pressure of the air [kPa absolute].
    system : System
        Units that the person reads.

    Examples
    --------
    >>> air_pressure(85.0, "metric"), air_pressure(85.0, "inch")
    ('85.0 kPa', '25.1 inHg')
    """
    return show(value_kpa, "pressure", system, unit="inHg" if system == "inch" else "")


def load(value_kpa: float, site_kpa: float, system: System) -> str:
    """Say a manifold pressure: absolute, or as a gauge shows it below or above the air at the site.

    Parameters
    ----------
    value_kpa : float
        Manifold pressure [kPa absolute].
    site_kpa : float
        Pressure of the air at the site [kPa absolute], from which a gauge counts.
    system : System
        Units that the person reads.

    Examples
    --------
    >>> load(60.0, 100.0, "metric"), load(60.0, 100.0, "inch"), load(155.0, 100.0, "inch")
    ('60 kPa', '11.8 inHg vacuum', '8.0 psi boost')
    """
    if system == "metric":
        return f"{value_kpa:.0f} kPa"
    if value_kpa > site_kpa:
        return f"{show(value_kpa - site_kpa, 'pressure', system)} boost"
    return f"{show(site_kpa - value_kpa, 'pressure', system, unit='inHg')} vacuum"


def own_unit(dimension: str, system: System) -> str:
    """Give the unit of a dimension that a person reads.

    Parameters
    ----------
    dimension : str
        Dimension as `sparkwright.units` calls it, such as "length".
    system : System
        Units that the person reads.

    Examples
    --------
    >>> own_unit("torque", "inch"), own_unit("length", "metric")
    ('lb-ft', 'mm')
    """
    kind = DIMENSIONS[dimension]
    return kind.inch if system == "inch" else kind.metric


def in_own_units(value: float, dimension: str, system: System) -> float:
    """Turn a number of the dimension's inside unit into the unit that a person reads.

    Parameters
    ----------
    value : float
        The number in the dimension's inside unit.
    dimension : str
        Dimension as `sparkwright.units` calls it, such as "length".
    system : System
        Units that the person reads.

    Examples
    --------
    >>> in_own_units(127.0, "length", "inch")
    5.0
    """
    return convert(value, dimension, DIMENSIONS[dimension].inside, own_unit(dimension, system))


def order_words(cylinders: Iterable[object]) -> str:
    """Write an order of cylinders.

    Parameters
    ----------
    cylinders : iterable of object
        Numbers or names of cylinders, in their order.

    Examples
    --------
    >>> order_words((1, 3, 4, 2))
    '1-3-4-2'
    """
    return "-".join(map(str, cylinders))


def mark_words(error_deg: float) -> str:
    """Say what a mark shows at true top dead centre.

    Parameters
    ----------
    error_deg : float
        What the mark shows at true top dead centre [crank deg], before it positive.

    Examples
    --------
    >>> mark_words(-2.0), mark_words(0.31), mark_words(0.0)
    ('2.0 deg after', '0.3 deg before', '0')
    """
    if abs(error_deg) < 0.05:
        return "0"
    return f"{abs(error_deg):.1f} deg {'before' if error_deg > 0.0 else 'after'}"


def number_of_cells(count: int, one: str, many: str) -> str:
    """Count cells with their verb: "1 cell lies", "3 cells lie".

    Parameters
    ----------
    count : int
        How many.
    one : str
        Verb for one cell.
    many : str
        Verb for several.
    """
    return f"{count} cell {one}" if count == 1 else f"{count} cells {many}"


def sentence_case(words: str) -> str:
    """Begin words with a capital, as a sentence does.

    Parameters
    ----------
    words : str
        Words that may begin small.

    Examples
    --------
    >>> sentence_case("stop the engine.")
    'Stop the engine.'
    """
    return words[:1].upper() + words[1:]
