"""Tables that scripts write into pages of the documentation."""

from __future__ import annotations


def with_tables(page: str, fresh: dict[str, str]) -> str:
    """Put tables between their marks on the page."""
    for name, table in fresh.items():
        start, end = f"<!-- {name} -->\n", f"\n<!-- end of {name} -->"
        before, rest = page.split(start)
        page = before + start + table + end + rest.split(end)[1]
    return page
