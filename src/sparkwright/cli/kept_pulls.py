"""Pulls out of the store and into it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sparkwright.cli.measured import opened

if TYPE_CHECKING:
    from sparkwright.dyno.pulls import Pull
    from sparkwright.evidence.found import Found


def kept_pulls(key: str, place: str | None) -> tuple[tuple[Pull, ...], list[Found]]:
    """Give the pulls at a brake that are kept with a job, and what those on the road say.

    Parameters
    ----------
    key : str
        Key of the job in the store.
    place : str or None
        Where the store is; None for the usual place.
    """
    from sparkwright.evidence.pulls import pulls_in
    from sparkwright.evidence.pulls_of_drives import kept_road_findings

    with opened(place) as shop:
        records = shop.evidence.of_job(shop.jobs.latest(key).key)
        return pulls_in(records), kept_road_findings(records)


def keep_pulls(key: str, file: Path, pulls: Sequence[Pull], who: str, place: str | None) -> int:
    """Keep pulls, and the file they stand in, with a job of the store; say how many are new to it.

    Parameters
    ----------
    key : str
        Key of the job in the store.
    file : Path
        File that the pulls stand in.
    pulls : sequence of Pull
        The pulls.
    who : str
        Who measured them.
    place : str or None
        Where the store is; None for the usual place.
    """
    from sparkwright.evidence.pulls import new_among, pull_seen

    given = [pull_seen(each) for each in pulls]
    with opened(place) as shop, file.open("rb") as content:
        job = shop.jobs.latest(key).key
        seen = new_among(given, shop.evidence.of_job(job))
        shop.files.attach(job, file.name, "readings", content, who=who)
        shop.evidence.add_all(job, seen, who=who)
    return len(seen)
