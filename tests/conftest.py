"""What tests of several subjects use: a place for a store, once in SQLite and once in PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from databases import Here, new_database, postgresql, programs
from sparkwright.shop import Shop


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    folder = programs()
    if folder is None:
        pytest.skip("PostgreSQL is not installed; Debian's package is postgresql")
    with postgresql(folder) as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def here(request: pytest.FixtureRequest, tmp_path: Path) -> Here:
    """A place where no store is yet."""
    if request.param == "sqlite":
        return Here(str(tmp_path / "store"), None)
    return Here(new_database(request.getfixturevalue("postgresql_server")), tmp_path / "store.files")


@pytest.fixture
def shop(here: Here) -> Iterator[Shop]:
    """An empty store."""
    with here.open() as shop:
        yield shop
