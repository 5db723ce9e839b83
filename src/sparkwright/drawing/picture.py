"""A picture: its drawing, the sentence under it, its text alternative and the table of its numbers."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from html import escape
from pathlib import Path

from sparkwright.drawing.look import PX_PER_MM, Theme
from sparkwright.drawing.png import png_from_svg
from sparkwright.drawing.svg import element, number, paragraph, style
from sparkwright.table_text import as_text

Cell = str | float | int | None


@dataclass(frozen=True)
class Picture:
    r"""One drawing that can be shown in any theme.

    Parameters
    ----------
    name : str
        Short name, used for files.
    title, description : str
        Text alternative: what it is, and what can be seen in it.
    sentence : str
        The sentence that stands under it.
    columns : tuple of str
        Headings of its table, units included.
    rows : tuple of tuple
        Its numbers; None or nan where a value is not determined.
    width_px, height_px : float
        Size of the drawing without the sentence [CSS px, 96 to the inch].
    body : str
        SVG markup whose colours are named by class.
    in_mm : bool
        True when the picture is to scale, so that its size is stated in millimetres.

    Examples
    --------
    >>> picture = Picture("dot", "A dot", "One dot.", "It is a dot.", ("x", "y"), ((1, None),), 8, 8, "")
    >>> picture.svg("light")[:4], picture.csv()
    ('<svg', 'x,y\n1,\n')
    """

    name: str
    title: str
    description: str
    sentence: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    width_px: float
    height_px: float
    body: str
    in_mm: bool = False

    @property
    def width_mm(self) -> float:
        """Width at its own size [mm]."""
        return self.width_px / PX_PER_MM

    def svg(self, theme: Theme = "auto", caption: bool = True) -> str:
        """Write the picture as one SVG document that carries its own style.

        Parameters
        ----------
        theme : {"light", "dark", "paper", "auto"}
            Which colours; ``auto`` follows the reader's screen.
        caption : bool
            Draw the sentence under the picture as well.
        """
        below, bottom_px = ("", self.height_px)
        if caption:
            below, bottom_px = paragraph(12, self.height_px + 15, self.sentence, self.width_px - 24, "soft")
        parts = (
            element("title", escape(self.title), id=f"{self.name}-title")
            + element("desc", escape(self.description), id=f"{self.name}-desc")
            + f"<style>{style(theme)}</style>"
            + element("rect", width="100%", height="100%", class_="background")
            + self.body
            + below
        )
        return element(
            "svg",
            parts,
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {number(self.width_px)} {number(bottom_px)}",
            width=self._length(self.width_px),
            height=self._length(bottom_px),
            class_=f"spark-{theme}",
            role="img",
            aria_labelledby=f"{self.name}-title {self.name}-desc",
        )

    def within_page(self) -> str:
        """Write the picture as part of a page that carries the style itself: drawing, sentence, numbers.

        The drawing is of the class ``spark-auto``; the page brings the rules of ``svg.style("auto")``. No
        style stands in the markup, so that it shows under a strict content-security policy.
        """
        drawn = element(
            "svg",
            element("title", escape(self.title), id=f"{self.name}-title")
            + element("desc", escape(self.description), id=f"{self.name}-desc")
            + self.body,
            viewBox=f"0 0 {number(self.width_px)} {number(self.height_px)}",
            width=self._length(self.width_px),
            height=self._length(self.height_px),
            class_="spark-auto",
            role="img",
            aria_labelledby=f"{self.name}-title {self.name}-desc",
        )
        head = "".join(element("th", escape(column), scope="col") for column in self.columns)
        rows = "".join(
            f"<tr>{''.join(f'<td>{escape(_written(cell))}</td>' for cell in row)}</tr>" for row in self.rows
        )
        return (
            f'<figure class="picture">{drawn}<figcaption>{escape(self.sentence)}</figcaption>'
            f'<details><summary>Its numbers</summary><div class="wide" tabindex="0" role="region" '
            f'aria-label="Numbers of: {escape(self.title)}"><table class="numbers">'
            f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div></details></figure>"
        )

    def _length(self, px: float) -> str:
        return f"{px / PX_PER_MM:.4f}mm" if self.in_mm else number(px)

    def png(self, theme: Theme = "light", ppi: float = 192.0) -> bytes:
        """Draw the picture as PNG, with its sentence; ``auto`` is drawn light.

        Parameters
        ----------
        theme : Theme, optional
            Colours that it is drawn in.
        ppi : float, optional
            Dots to an inch.
        """
        return png_from_svg(self.svg("light" if theme == "auto" else theme), ppi)

    def csv(self) -> str:
        """Write the picture's numbers as comma-separated text; a value not determined is left empty."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(self.columns)
        writer.writerows(
            [as_text(cell) if isinstance(cell, str) else _written(cell) for cell in row] for row in self.rows
        )
        return text.getvalue()

    def save(self, folder: Path, theme: Theme = "light", ppi: float = 192.0) -> tuple[Path, ...]:
        """Write ``name.svg``, ``name.png`` and ``name.csv`` into a folder that exists.

        Parameters
        ----------
        folder : Path
            The folder, which must exist.
        theme : Theme, optional
            Colours that it is drawn in.
        ppi : float, optional
            Dots to an inch of the PNG.
        """
        paths = tuple(folder / f"{self.name}.{kind}" for kind in ("svg", "png", "csv"))
        paths[0].write_text(self.svg(theme), encoding="utf-8")
        paths[1].write_bytes(self.png(theme, ppi))
        paths[2].write_text(self.csv(), encoding="utf-8")
        return paths

    def _repr_svg_(self) -> str:
        """Show the picture in a notebook."""
        return self.svg("auto")


def _written(cell: Cell) -> str:
    if cell is None or (isinstance(cell, float) and math.isnan(cell)):
        return ""
    return f"{cell:.6g}" if isinstance(cell, float) else str(cell)
