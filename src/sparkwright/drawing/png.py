"""Pictures as PNG: a page of the picture's own size, in the program's own type face."""

from __future__ import annotations

from functools import cache

import typst

from sparkwright.drawing.look import FONT_FOLDER
from sparkwright.errors import Refusal

PPI_SPAN = (36.0, 1200.0)

_PAGE = b"""#set page(width: auto, height: auto, margin: 0pt)
#image(bytes(sys.inputs.svg), format: "svg")
"""


@cache
def fonts() -> typst.Fonts:
    """Collect the fonts that ship with the program, and none of the machine's, so that pages repeat."""
    return typst.Fonts(include_system_fonts=False, font_paths=[FONT_FOLDER])


def png_from_svg(svg: str, ppi: float = 192.0) -> bytes:
    r"""Draw an SVG picture as PNG.

    Parameters
    ----------
    svg : str
        A picture in a fixed theme (light, dark or paper).
    ppi : float
        Pixels per inch of the picture's stated size, 36 to 1200; at 96 one pixel is one CSS pixel.

    Returns
    -------
    bytes
        The PNG file; the same bytes for the same picture and resolution.

    Raises
    ------
    Refusal
        If ``ppi`` is outside its span.

    Examples
    --------
    >>> dot = '<svg xmlns="http://www.w3.org/2000/svg" width="8" height="8"><circle r="4"/></svg>'
    >>> png_from_svg(dot)[:4]
    b'\x89PNG'
    """
    low, high = PPI_SPAN
    if not low <= ppi <= high:
        raise Refusal.at("ppi", ppi, f"must be from {low:g} to {high:g} pixels per inch")
    page = typst.Compiler(_PAGE, font_paths=fonts(), ignore_system_fonts=True, sys_inputs={"svg": svg})
    return one_file(page.compile(format="png", ppi=ppi))


def one_file(compiled: bytes | list[bytes] | None) -> bytes:
    """Take the one file that a document of one page, or a PDF, compiles to.

    Parameters
    ----------
    compiled : bytes, list of bytes or None
        What the typesetter gave: one file, several, or none.

    Examples
    --------
    >>> one_file(b"page"), one_file([b"page"])
    (b'page', b'page')
    """
    if isinstance(compiled, bytes):
        return compiled
    (page,) = compiled or []
    return page
