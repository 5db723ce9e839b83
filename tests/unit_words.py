"""What a person reads of a page or a terminal, and which of its numbers are in the other system's units."""

from __future__ import annotations

import html
import re

NUMBER = r"(?<![\w.])-?\d[\d.,]*[\s\u00a0]*"
IN_METRIC = re.compile(NUMBER + r"(mm|cm|m|N[\s\u00a0]?m|degC|\u00b0[\s\u00a0]?C|km/h|kPa)(?![\w/])")
IN_INCHES = re.compile(NUMBER + r"(in|thou|ft|lb-ft|degF|\u00b0[\s\u00a0]?F|mph|inHg|psi)(?![\w/])")
HEADED = {
    "inch": re.compile(r"\[(mm|N m|degC|km/h)\]|N[\s\u00a0]m\b"),
    "metric": re.compile(r"\[(in|lb-ft|degF|mph|inHg|psi)\]|lb-ft"),
}
"""Units at the head of a column or an axis."""

PLACE = re.compile(
    r"rpm(,| and| at)[\s\u00a0]\d[\d.]*( to \d[\d.]*)?[\s\u00a0]kPa"
    r"|\d[\d.]*[\s\u00a0]kPa and [\d,]+[\s\u00a0]rpm|deg in \d+ kPa|slope from \d[\d.]* kPa|over \d+ kPa"
    r"|([Rr]ibbon at|At|degrees at|Full load,|Cruise,) \d[\d.]*[\s\u00a0]kPa"
)
"""Where a load names a place of the controller's map, by the number at its axis."""

ROW_OF_THE_MAP = re.compile(r"(?<=[\d-] )kPa( [\d,]+)+")
"""The head of a map on a terminal: its loads stand down the side, its speeds above."""

IN_BOTH = re.compile(
    r"-?\d[\d.,]* (degC|mm|kPa|m)( to -?\d[\d.,]* \1)? \(-?\d[\d.,]* (degF|in|inHg|psi|ft)[^)]*\)"
    r"|3\.75 in or 95\.25 mm"
)
"""What is said in the units of both."""

TRADE = re.compile(r"\b0\.0(50|06|20) in\b|as in \"13 inHg vacuum\"")
"""Lifts at which cards everywhere state a cam, and what a gauge may show."""

A_CHANCE = re.compile(r"\b1 in \d+")


def spoken(page: str) -> str:
    """Give the words of a page, without what the person typed, and files as they are."""
    for tag in ("script", "style", "textarea", "pre", "option", "datalist"):
        page = re.sub(rf"(?s)<{tag}\b.*?</{tag}>", " ", page)
    page = re.sub(r'(?s)<(span|p) class="(typed|controller)[^"]*".*?</\1>', " ", page)
    said = " ".join(re.findall(r'(?:aria-label|title|alt|placeholder)="([^"]*)"', page))
    page = re.sub(r"(?s)<(input|meta|link)\b[^>]*>", " ", page)
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page) + " " + said))


def wrong_units(text: str, system: str) -> list[str]:
    """Name each place where a text has a number in the other system, with what stands before it."""
    for said_so in (IN_BOTH, TRADE, A_CHANCE, ROW_OF_THE_MAP):
        text = said_so.sub("", text)
    text = PLACE.sub("rpm", text)
    found = [HEADED[system], IN_METRIC if system == "inch" else IN_INCHES]
    return [text[max(0, m.start() - 50) : m.end() + 10] for each in found for m in each.finditer(text)]
