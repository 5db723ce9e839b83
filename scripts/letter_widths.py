"""Measure the letters of the font that pictures use, and write their widths into `drawing/letter_widths.py`.

Run ``.venv/bin/python scripts/letter_widths.py`` after the font was changed; a test holds the table to it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fontTools.ttLib import TTFont

from sparkwright.drawing.look import FONT_FAMILY, FONT_FOLDER

TABLE = Path(__file__).parent.parent / "src" / "sparkwright" / "drawing" / "letter_widths.py"
LETTERS = (
    "".join(map(chr, range(0x20, 0x7F))) + "°±²³·µÄÅÖØÜßäåéöøü—“”•…→≤≥\u00a0\u00d7\u2013\u2018\u2019\u2212"
)
"""What stands in pictures: ASCII, signs of measuring, and letters of names."""

HEADER = '''"""Widths of letters in the bold font of the pictures, digits of one width, as shares of its size.

The regular font is some 7 % narrower; what has room in bold has room in it, and in most fonts that stand in.
Written by `scripts/letter_widths.py` from the font's own table; don't change it by hand.
"""

from typing import Final

'''


def widths(weight: str) -> dict[str, float]:
    """Give the widths [em] of the letters that the font has in a weight, ``Regular`` or ``Bold``."""
    font = TTFont(FONT_FOLDER / f"{FONT_FAMILY.replace(' ', '')}-{weight}.ttf")
    em, names, advances = font["head"].unitsPerEm, font.getBestCmap(), font["hmtx"]
    drawn = _tabular(font)
    glyphs = {each: names[ord(each)] for each in LETTERS if ord(each) in names}
    return {each: advances[drawn.get(name, name)][0] / em for each, name in glyphs.items()}


def _tabular(font: Any) -> dict[str, str]:
    """Give what stands for each digit where all are to have one width (OpenType feature `tnum`)."""
    rules = font["GSUB"].table
    chosen = {
        k
        for each in rules.FeatureList.FeatureRecord
        if each.FeatureTag == "tnum"
        for k in each.Feature.LookupListIndex
    }
    found: dict[str, str] = {}
    for number in sorted(chosen):
        for step in rules.LookupList.Lookup[number].SubTable:
            found |= getattr(step, "ExtSubTable", step).mapping
    return found


def table() -> str:
    """Give the module as it is to be."""
    lines = [f"    {_quoted(each)}: {width:.3f},\n" for each, width in sorted(widths("Bold").items())]
    return f"{HEADER}LETTER_WIDTHS_EM: Final[dict[str, float]] = {{\n{''.join(lines)}}}\n"


def _quoted(letter: str) -> str:
    if letter in ('"', "\\"):
        return "'\"'" if letter == '"' else '"\\\\"'
    return f'"{letter}"' if letter.isascii() else f'"\\u{ord(letter):04x}"'


if __name__ == "__main__":
    TABLE.write_text(table(), encoding="utf-8")
    print(f"{TABLE} written")
