"""Small drawing primitives: elements of SVG as text.

All lengths are CSS pixels (96 to the inch). Nothing here knows the subject; colours are named by
class and come from the theme (see ``look``).
"""

from __future__ import annotations

from html import escape

import numpy as np
from numpy.typing import ArrayLike

from sparkwright.drawing.letter_widths import LETTER_WIDTHS_EM
from sparkwright.drawing.look import FONT_STACK, TEXT_PX, TOKENS, Theme

WIDEST_EM = 1.0
"""Taken for a letter that the font doesn't have: those of other writings fill a square."""
LINE_PX = 20.0
"""Distance from one line of text to the next."""

_RULES = """
text {{ font-family: {font}; font-size: {size}px; fill: {ink}; stroke: none }}
text {{ font-variant-numeric: tabular-nums }}
.background {{ fill: {paper} }}
.heading {{ font-weight: 700 }}
.strong {{ font-weight: 700 }}
.slanted {{ font-style: italic }}
.soft {{ fill: {soft} }}
.accent {{ fill: {accent} }}
.warn {{ fill: {warn} }}
.halo {{ stroke: {paper}; stroke-width: 5px; stroke-linejoin: round; paint-order: stroke }}
.band {{ fill: {band} }}
.grid {{ fill: none; stroke: {line}; stroke-width: 1px }}
.thin {{ fill: none; stroke: {soft}; stroke-width: 1px }}
.edge {{ fill: none; stroke: {ink}; stroke-width: 1.5px; stroke-linejoin: round }}
.level {{ fill: none; stroke: #000000; stroke-opacity: 0.35; stroke-width: 1px }}
.plan {{ fill: none; stroke: {accent}; stroke-width: 5px; stroke-linejoin: round; stroke-linecap: round }}
.best {{ fill: none; stroke: {soft}; stroke-width: 2px; stroke-linejoin: round }}
.knock {{ fill: none; stroke: {warn}; stroke-width: 2.5px; stroke-dasharray: 2 5; stroke-linecap: round }}
.reach {{ fill: none; stroke: {ink}; stroke-width: 2px; stroke-dasharray: 10 6 }}
.old {{ fill: none; stroke: {soft}; stroke-width: 2px; stroke-dasharray: 10 4 2 4 }}
.curve {{ fill: none; stroke: {ink}; stroke-width: 2.5px; stroke-linejoin: round }}
.mark {{ fill: none; stroke: {accent}; stroke-width: 2px }}
.dot {{ fill: {accent} }}
.solid {{ fill: {ink} }}
.over {{ fill: {paper}; stroke: {ink}; stroke-width: 1.8px; stroke-linejoin: round }}
.ceiling {{ fill: none; stroke: {ink}; stroke-width: 1.5px; stroke-dasharray: 1 4; stroke-linecap: round }}
.grey {{ fill: {soft} }}
.on-dark {{ fill: #ffffff }}
.on-light {{ fill: #000000 }}
.hatch-dark {{ fill: none; stroke: #000000; stroke-opacity: 0.4; stroke-width: 1px }}
.hatch-light {{ fill: none; stroke: #ffffff; stroke-opacity: 0.4; stroke-width: 1px }}
.casing {{ fill: none; stroke: {paper}; stroke-width: 3.5px; stroke-linejoin: round }}
"""


def style(theme: Theme) -> str:
    """Style rules for one theme, kept to pictures of that theme so that they leave a page alone.

    A fixed theme writes its colours out, which every renderer understands. ``auto`` writes custom
    properties, which a page may set anew.

    Parameters
    ----------
    theme : Theme
        Theme of the pictures: "light", "dark", "paper" or "auto".

    Examples
    --------
    >>> "#6fc0de" in style("dark"), "var(--spark-accent)" in style("auto")
    (True, True)
    """
    scope = f".spark-{theme}"
    if theme != "auto":
        return _scoped_rules(scope, TOKENS[theme])
    by_property = {name: f"var(--spark-{name})" for name in TOKENS["light"]}
    return (
        f"{scope} {_properties('light')}\n"
        f"@media (prefers-color-scheme: dark) {{ {scope} {_properties('dark')} }}\n"
        f"@media print {{ {scope} {_properties('paper')} }}" + _scoped_rules(scope, by_property)
    )


def _properties(tokens: str) -> str:
    return "{ " + "; ".join(f"--spark-{name}: {colour}" for name, colour in TOKENS[tokens].items()) + " }"


def _scoped_rules(scope: str, colours: dict[str, str]) -> str:
    rules = _RULES.format(font=FONT_STACK, size=number(TEXT_PX), **colours)
    return rules.replace("\n.", f"\n{scope} .").replace("\ntext", f"\n{scope} text")


def number(value: float) -> str:
    """Write a number for an attribute: two decimals at most, no trailing zeros.

    Parameters
    ----------
    value : float
        The number.

    Examples
    --------
    >>> number(3.0), number(2.345678), number(-0.001)
    ('3', '2.35', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def degrees(value: float, decimals: int = 0) -> str:
    r"""Write an angle for a person.

    Parameters
    ----------
    value : float
        The angle [deg].
    decimals : int, optional
        Figures behind the point.

    Examples
    --------
    >>> degrees(34.0) == "34\N{DEGREE SIGN}"
    True
    """
    return grouped(value, decimals) + "\N{DEGREE SIGN}"


def grouped(value: float, decimals: int = 0) -> str:
    r"""Write a number for a person: thousands parted by a comma, a true minus sign.

    Parameters
    ----------
    value : float
        The number.
    decimals : int, optional
        Figures behind the point.

    Examples
    --------
    >>> grouped(2400), grouped(-3.25, 1) == "\N{MINUS SIGN}3.2"
    ('2,400', True)
    """
    text = f"{value:,.{decimals}f}"
    return text.replace("-", "\N{MINUS SIGN}") if float(text.replace(",", "")) else text.replace("-", "")


def element(tag: str, /, *content: str, **attributes: str | float) -> str:
    """Write one SVG element; ``content`` is markup, attribute values are escaped here.

    Names lose a trailing underscore and take hyphens for the others: ``class_``, ``text_anchor``.

    Parameters
    ----------
    tag : str
        Name of the element.
    content : str
        Markup inside it.
    attributes : str or float
        Its attributes by name.

    Examples
    --------
    >>> element("rect", x=1.0, class_="band")
    '<rect x="1" class="band"/>'
    """
    parts = [tag]
    for name, value in attributes.items():
        written = value if isinstance(value, str) else number(value)
        parts.append(f'{name.rstrip("_").replace("_", "-")}="{escape(written)}"')
    opening = " ".join(parts)
    inner = "".join(content)
    return f"<{opening}>{inner}</{tag}>" if inner else f"<{opening}/>"


def words(x: float, y: float, text: str, class_: str = "", anchor: str = "start", **more: str | float) -> str:
    """Write a line of text with its baseline at ``y``; the text is escaped.

    Parameters
    ----------
    x : float
        Place of the start, middle or end of the line [px].
    y : float
        Its baseline, downwards [px].
    text : str
        What is written.
    class_ : str, optional
        Class by which the theme gives it its colour and line.
    anchor : str, optional
        Which part of the line stands at ``x``: "start", "middle" or "end".
    more : str or float
        Further attributes by name.

    Examples
    --------
    >>> words(1, 2, "knock < best", class_="warn")
    '<text x="1" y="2" class="warn" text-anchor="start">knock &lt; best</text>'
    """
    return element("text", escape(text), x=x, y=y, class_=class_, text_anchor=anchor, **more)


def line(x1: float, y1: float, x2: float, y2: float, class_: str) -> str:
    """Draw a straight line.

    Parameters
    ----------
    x1, y1 : float
        Where it begins [px].
    x2, y2 : float
        Where it ends [px].
    class_ : str
        Class by which the theme gives it its colour and line.

    Examples
    --------
    >>> line(0, 0, 10, 0, "grid")
    '<line x1="0" y1="0" x2="10" y2="0" class="grid"/>'
    """
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=class_)


def path(points: ArrayLike, class_: str, closed: bool = False) -> str:
    """Draw a path through points of shape (n, 2).

    Parameters
    ----------
    points : array
        Its points, shape (n, 2) [px].
    class_ : str
        Class by which the theme gives it its colour and line.
    closed : bool, optional
        Whether it comes back to its first point.

    Examples
    --------
    >>> path([[0, 0], [4, 3]], "plan")
    '<path d="M0 0L4 3" class="plan"/>'
    """
    return element("path", d=outline(points, closed), class_=class_)


def outline(points: ArrayLike, closed: bool = False) -> str:
    """Path data through points of shape (n, 2).

    Parameters
    ----------
    points : array
        The points, shape (n, 2) [px].
    closed : bool, optional
        Whether the path comes back to its first point.

    Examples
    --------
    >>> outline([[0, 0], [4, 3], [0, 3]], closed=True)
    'M0 0L4 3L0 3Z'
    """
    pairs = [f"{number(x)} {number(y)}" for x, y in np.asarray(points, dtype=float)]
    return "M" + "L".join(pairs) + ("Z" if closed else "")


def triangle(x: float, y: float, size: float = 6.0, class_: str = "over") -> str:
    """Draw an upright triangle about a middle: the mark of a cell set over a ceiling, also in grey print.

    Parameters
    ----------
    x : float
        Middle, across [px].
    y : float
        Middle, downwards [px].
    size : float, optional
        From the middle to a side [px].
    class_ : str, optional
        Class by which the theme gives it its colour and line.

    Examples
    --------
    >>> triangle(0, 0, 6)
    '<path d="M-6 5L6 5L0 -6Z" class="over"/>'
    """
    corners = [[x - size, y + size - 1], [x + size, y + size - 1], [x, y - size]]
    return path(corners, class_, closed=True)


def text_width_px(text: str, size_px: float = TEXT_PX) -> float:
    """Width of a line of text in the bold font, which is the widest that pictures use [px].

    Parameters
    ----------
    text : str
        One line.
    size_px : float
        Size of its letters [px].

    Examples
    --------
    >>> text_width_px("reach") < text_width_px("reach 34")
    True
    """
    return sum(LETTER_WIDTHS_EM.get(letter, WIDEST_EM) for letter in text) * size_px


def wrapped(text: str, width_px: float) -> list[str]:
    """Break a text into lines no wider than ``width_px``, at spaces (never at a no-break space).

    Parameters
    ----------
    text : str
        The text.
    width_px : float
        Room for a line [px].

    Examples
    --------
    >>> wrapped("one two three", 60.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_px(longer) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def paragraph(x: float, y: float, text: str, width_px: float, class_: str) -> tuple[str, float]:
    """Several lines of text from the baseline ``y`` on, and the baseline after the last of them.

    Parameters
    ----------
    x : float
        Where the lines begin [px].
    y : float
        Baseline of the first, downwards [px].
    text : str
        The text.
    width_px : float
        Room for a line [px].
    class_ : str
        Class by which the theme gives it its colour and line.

    Examples
    --------
    >>> paragraph(0.0, 15.0, "one two three", 60.0, "soft")[1]
    55.0
    """
    lines = wrapped(text, width_px)
    drawn = [words(x, y + index * LINE_PX, text, class_) for index, text in enumerate(lines)]
    return "".join(drawn), y + len(lines) * LINE_PX
