"""What is seen on an engine, for the tests that keep it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import insert, select

from sparkwright.evidence.kinds import LightReading
from sparkwright.light.readings import Reading
from sparkwright.shop import Shop
from sparkwright.shop.tables import evidence, jobs


def light(speed_rpm: float = 2000.0, seen_deg: float = 20.0, number: int = 1, **more: Any) -> LightReading:
    """A light reading of a set, 20 deg commanded."""
    return LightReading(Reading(20.0, float(speed_rpm), seen_deg, **more), number)


def put_as_it_is(shop: Shop, key: str, fields: Mapping[str, object], kind: str = "light-reading") -> None:
    """Put fields into the store that no door has seen, as an archive from elsewhere may bring them."""
    with shop.database.writing() as connection:
        job_id = connection.execute(select(jobs.c.id).where(jobs.c.key == key)).scalar_one()
        connection.execute(
            insert(evidence).values(
                job_id=job_id,
                kind=kind,
                version=1,
                fields=json.dumps(fields),
                taken_at=datetime.now(UTC),
                taken_by="A. Example",
                withdrawn_why="",
            )
        )
