"""The look of every picture and sheet: colours, sizes, the type face, and advance as colour.

A picture names what a stroke or a word *is* (``plan``, ``soft``, ``warn``); the theme says which
colour that is. So one picture serves a light screen, a dark bay and white paper.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal, get_args

import numpy as np

Theme = Literal["light", "dark", "paper", "auto"]
"""``auto`` follows the reader's screen (light or dark) and turns to ``paper`` when printed."""

THEMES: tuple[Theme, ...] = get_args(Theme)

FONT_FAMILY = "Atkinson Hyperlegible Next"
FONT_FOLDER = Path(__file__).parent / "fonts"
FONT_STACK = f'"{FONT_FAMILY}", "Atkinson Hyperlegible", system-ui, sans-serif'

TEXT_PX = 15.0
"""Size of all text in drawings; nothing is set smaller."""

PX_PER_MM = 96.0 / 25.4
"""CSS reference pixels in a millimetre (W3C CSS Values and Units 3, section 6.2)."""

TOKENS: dict[str, dict[str, str]] = {
    "light": {
        "paper": "#f7f6f2",
        "card": "#ffffff",
        "ink": "#1d2329",
        "soft": "#545d66",
        "line": "#d9d6cc",
        "accent": "#0b5f7d",
        "warn": "#8a4b00",
        "band": "#e4e2da",
    },
    "dark": {
        "paper": "#14181c",
        "card": "#1c2227",
        "ink": "#eceae3",
        "soft": "#a9b1b8",
        "line": "#343c43",
        "accent": "#6fc0de",
        "warn": "#f0b45c",
        "band": "#2a3238",
    },
    "paper": {
        "paper": "#ffffff",
        "card": "#ffffff",
        "ink": "#1d2329",
        "soft": "#545d66",
        "line": "#d5d3cc",
        "accent": "#0b5f7d",
        "warn": "#8a4b00",
        "band": "#ebe9e3",
    },
}
"""Named colours by theme. ``band`` is the light fill of an interval."""

ADVANCE_SCALE_DEG = (0.0, 50.0)
"""The fixed span of the colour scale, so that two maps compare."""

_CIVIDIS = [
    "#00224e", "#002e6c", "#1e3a6f", "#35456c", "#47516c", "#575d6d", "#666970", "#757575",
    "#848279", "#948e77", "#a59c74", "#b7a96e", "#c8b866", "#dbc75a", "#eed649", "#fee838",
]  # fmt: skip
_CELL_INKS = ("#000000", "#ffffff")

DIFFERENCE_SCALE_DEG = 10.0
"""Difference at which its colour is full, either way; fixed, so that two pictures compare."""

_DIFFERENCE = ("#8a4b00", "#f4f2ec", "#0b5f7d")
"""Less advance, as it was, more advance: the two ends are equally dark, so that in grey the deeper tone is
the larger move either way and the sign written in the cell tells which."""


def red_green_blue(colour: str) -> tuple[int, int, int]:
    """Split ``#rrggbb`` into three numbers from 0 to 255.

    Parameters
    ----------
    colour : str
        Colour as ``#rrggbb``.

    Examples
    --------
    >>> red_green_blue("#0b5f7d")
    (11, 95, 125)
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def relative_luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, 0 (black) to 1 (white) [-].

    Source: W3C, Web Content Accessibility Guidelines 2.1 (2018), definition of relative luminance.

    Parameters
    ----------
    colour : str
        Colour as ``#rrggbb``.

    Examples
    --------
    >>> relative_luminance("#ffffff")
    1.0
    """
    shares = [channel / 255.0 for channel in red_green_blue(colour)]
    red, green, blue = (
        share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4 for share in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast_ratio(one: str, other: str) -> float:
    """Contrast of two colours, 1 (none) to 21 (black on white) [-].

    Source: W3C, Web Content Accessibility Guidelines 2.1 (2018), definition of contrast ratio.

    Parameters
    ----------
    one : str
        Colour as ``#rrggbb``.
    other : str
        The colour beside it; which is named first doesn't count.

    Examples
    --------
    >>> round(contrast_ratio("#000000", "#ffffff"), 6)
    21.0
    """
    darker, lighter = sorted((relative_luminance(one), relative_luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def advance_colour(advance_deg: float) -> str:
    """Colour of an advance on the fixed scale; the scale's end colours beyond its ends.

    The colours are cividis (Nunez, Anderton and Renslow 2018, PLoS ONE 13(7), e0199239): read alike
    by colour-blind eyes and even in grey. Sixteen steps of it, straight between them, which stays
    within 10 of 255 of the published table in each channel.

    Parameters
    ----------
    advance_deg : float
        Crank degrees before top dead centre [deg].

    Examples
    --------
    >>> advance_colour(0.0), advance_colour(50.0), advance_colour(90.0)
    ('#00224e', '#fee838', '#fee838')
    """
    low_deg, high_deg = ADVANCE_SCALE_DEG
    place = (advance_deg - low_deg) / (high_deg - low_deg) * (len(_CIVIDIS) - 1)
    channels = np.array([red_green_blue(colour) for colour in _CIVIDIS], dtype=float)
    mixed = [np.interp(place, np.arange(len(_CIVIDIS)), channels[:, k]) for k in range(3)]
    return "#" + "".join(f"{round(float(channel)):02x}" for channel in mixed)


def difference_colour(difference_deg: float) -> str:
    """Colour of a difference in advance: brown for less, blue for more, neutral where nothing moved.

    Blue against brown stays apart to colour-blind eyes; both ends have about the same lightness.

    Parameters
    ----------
    difference_deg : float
        New less old [crank deg]; beyond `DIFFERENCE_SCALE_DEG` the end colours.

    Examples
    --------
    >>> difference_colour(-10.0), difference_colour(0.0), difference_colour(25.0)
    ('#8a4b00', '#f4f2ec', '#0b5f7d')
    """
    channels = np.array([red_green_blue(colour) for colour in _DIFFERENCE], dtype=float)
    place = difference_deg / DIFFERENCE_SCALE_DEG
    mixed = [np.interp(place, (-1.0, 0.0, 1.0), channels[:, k]) for k in range(3)]
    return "#" + "".join(f"{round(float(channel)):02x}" for channel in mixed)


def text_colour_on(colour: str) -> str:
    """Black or white, whichever reads better on a cell of this colour.

    Pure black and white, not the ink of the page: only so does the middle of the scale keep a
    contrast of 4.5.

    Parameters
    ----------
    colour : str
        Colour of the cell as ``#rrggbb``.

    Examples
    --------
    >>> text_colour_on("#00224e"), text_colour_on("#fee838")
    ('#ffffff', '#000000')
    """
    return max(_CELL_INKS, key=lambda ink: contrast_ratio(ink, colour))
