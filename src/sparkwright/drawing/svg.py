"""Small drawing primitives: elements of SVG as text, a plot frame, and labels that keep apart.

All lengths are CSS pixels (96 to the inch). Nothing here knows the subject; colours are named by
class and come from the theme (see ``look``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import ArrayLike, NDArray

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

    Examples
    --------
    >>> number(3.0), number(2.345678), number(-0.001)
    ('3', '2.35', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def degrees(value: float, decimals: int = 0) -> str:
    r"""Write an angle for a person.

    Examples
    --------
    >>> degrees(34.0) == "34\N{DEGREE SIGN}"
    True
    """
    return grouped(value, decimals) + "\N{DEGREE SIGN}"


def grouped(value: float, decimals: int = 0) -> str:
    r"""Write a number for a person: thousands parted by a comma, a true minus sign.

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

    Examples
    --------
    >>> words(1, 2, "knock < best", class_="warn")
    '<text x="1" y="2" class="warn" text-anchor="start">knock &lt; best</text>'
    """
    return element("text", escape(text), x=x, y=y, class_=class_, text_anchor=anchor, **more)


def line(x1: float, y1: float, x2: float, y2: float, class_: str) -> str:
    """Draw a straight line.

    Examples
    --------
    >>> line(0, 0, 10, 0, "grid")
    '<line x1="0" y1="0" x2="10" y2="0" class="grid"/>'
    """
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=class_)


def path(points: ArrayLike, class_: str, closed: bool = False) -> str:
    """Draw a path through points of shape (n, 2).

    Examples
    --------
    >>> path([[0, 0], [4, 3]], "plan")
    '<path d="M0 0L4 3" class="plan"/>'
    """
    return element("path", d=outline(points, closed), class_=class_)


def outline(points: ArrayLike, closed: bool = False) -> str:
    """Path data through points of shape (n, 2).

    Examples
    --------
    >>> outline([[0, 0], [4, 3], [0, 3]], closed=True)
    'M0 0L4 3L0 3Z'
    """
    pairs = [f"{number(x)} {number(y)}" for x, y in np.asarray(points, dtype=float)]
    return "M" + "L".join(pairs) + ("Z" if closed else "")


def triangle(x: float, y: float, size: float = 6.0, class_: str = "over") -> str:
    """Draw an upright triangle about a middle: the mark of a cell set over a ceiling, also in grey print.

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

    Examples
    --------
    >>> paragraph(0.0, 15.0, "one two three", 60.0, "soft")[1]
    55.0
    """
    lines = wrapped(text, width_px)
    drawn = [words(x, y + index * LINE_PX, text, class_) for index, text in enumerate(lines)]
    return "".join(drawn), y + len(lines) * LINE_PX


def even_ticks(low: float, high: float, at_most: int) -> list[float]:
    """Round values within a span, evenly 1, 2, 2.5 or 5 times a power of ten apart.

    Examples
    --------
    >>> even_ticks(3.0, 52.0, 6)
    [10.0, 20.0, 30.0, 40.0, 50.0]
    """
    power = 10.0 ** math.floor(math.log10((high - low) / at_most))
    for factor in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 25.0):
        step = factor * power
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < at_most:
            break
    return [round(index * step, 10) for index in range(first, last + 1)]


def kept_apart(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move places along a line as little as needed so that none is nearer than ``gap`` to the next.

    The order is kept, and so are the ends ``low`` and ``high`` where all fit between them.

    Examples
    --------
    >>> kept_apart([50.0, 52.0, 10.0], gap=20.0, low=0.0, high=100.0)
    [41.0, 61.0, 10.0]
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    groups: list[list[int]] = []
    for index in order:
        groups.append([index])
        while len(groups) > 1 and _crowded(groups[-2], groups[-1], wanted, gap, low, high):
            last = groups.pop()
            groups[-1] += last
    places = [0.0] * len(wanted)
    for group in groups:
        start = _group_start(group, wanted, gap, low, high)
        for rank, index in enumerate(group):
            places[index] = start + rank * gap
    return places


def _group_start(group: list[int], wanted: Sequence[float], gap: float, low: float, high: float) -> float:
    span = (len(group) - 1) * gap
    middle = sum(wanted[index] for index in group) / len(group)
    return max(low, min(middle - span / 2, high - span))


def _crowded(
    before: list[int], after: list[int], wanted: Sequence[float], gap: float, low: float, high: float
) -> bool:
    end = _group_start(before, wanted, gap, low, high) + (len(before) - 1) * gap
    return _group_start(after, wanted, gap, low, high) - end < gap


@dataclass(frozen=True)
class Frame:
    """A plot's place on the picture (pixels) and the values its edges stand for.

    Examples
    --------
    >>> frame = Frame(left=40, top=10, right=240, bottom=110, x_span=(0, 100), y_span=(0, 50))
    >>> float(frame.x(50)), float(frame.y(0))
    (140.0, 110.0)
    """

    left: float
    top: float
    right: float
    bottom: float
    x_span: tuple[float, float]
    y_span: tuple[float, float]

    def x(self, value: ArrayLike) -> NDArray[np.float64]:
        """Horizontal place of a value [px]."""
        low, high = self.x_span
        return self.left + (np.asarray(value, dtype=float) - low) / (high - low) * (self.right - self.left)

    def y(self, value: ArrayLike) -> NDArray[np.float64]:
        """Vertical place of a value; larger values stand higher [px]."""
        low, high = self.y_span
        return self.bottom - (np.asarray(value, dtype=float) - low) / (high - low) * (self.bottom - self.top)

    def points(self, x_values: ArrayLike, y_values: ArrayLike) -> NDArray[np.float64]:
        """Places of many values, shape (n, 2) [px]."""
        return np.column_stack((np.atleast_1d(self.x(x_values)), np.atleast_1d(self.y(y_values))))

    def curve(self, x_values: ArrayLike, y_values: ArrayLike, class_: str) -> str:
        """Draw a line through the values that are known and within the frame, broken where they are not."""
        points = self.points(x_values, self._kept(y_values))
        return "".join(path(run, class_) for run in _known_runs(points) if len(run) > 1)

    def band(self, x_values: ArrayLike, low: ArrayLike, high: ArrayLike, class_: str) -> str:
        """Fill the area between two lines, cut at the frame, where both are known."""
        x_px = self.x(x_values)
        edges = np.column_stack((x_px, self.y(self._clipped(low)), self.y(self._clipped(high))))
        runs = [run for run in _known_runs(edges) if len(run) > 1]
        return "".join(
            path(np.vstack((run[:, [0, 1]], run[::-1][:, [0, 2]])), class_, closed=True) for run in runs
        )

    def _clipped(self, values: ArrayLike) -> NDArray[np.float64]:
        low, high = self.y_span
        within: NDArray[np.float64] = np.clip(np.asarray(values, dtype=float), low, high)
        return within

    def _kept(self, values: ArrayLike) -> NDArray[np.float64]:
        array = np.asarray(values, dtype=float)
        low, high = self.y_span
        kept: NDArray[np.float64] = np.where((array >= low) & (array <= high), array, np.nan)
        return kept

    def scales(
        self,
        x_ticks: Iterable[float],
        y_ticks: Iterable[float],
        write_x: Callable[[float], str] = grouped,
        write_y: Callable[[float], str] = grouped,
    ) -> str:
        """Light level lines with their values at the left, and values along the bottom."""
        drawn = []
        for value in y_ticks:
            y_px = float(self.y(value))
            drawn.append(line(self.left, y_px, self.right, y_px, "grid"))
            drawn.append(words(self.left - 8, y_px + 5, write_y(value), "soft", "end"))
        drawn += [
            words(float(self.x(value)), self.bottom + 22, write_x(value), "soft", "middle")
            for value in x_ticks
        ]
        return "".join(drawn)

    def end_labels(self, labels: Sequence[tuple[float, str, str]]) -> str:
        """Labels (value at the right edge, text, class) beside the right edge, kept apart."""
        wanted = [float(self.y(value)) + 5 for value, _, _ in labels]
        places = kept_apart(wanted, LINE_PX, self.top + 5, self.bottom + 5)
        return "".join(
            words(self.right + 10, y_px, text, class_)
            for y_px, (_, text, class_) in zip(places, labels, strict=True)
        )


def _known_runs(rows: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    known = np.isfinite(rows).all(axis=1)
    breaks = np.flatnonzero(np.diff(known.astype(int))) + 1
    return [
        run for run, whole in zip(np.split(rows, breaks), np.split(known, breaks), strict=True) if whole.all()
    ]
