"""New jobs: the key that one gets, and whether it was started before."""

from __future__ import annotations

from sqlalchemy import Connection, or_, select

from sparkwright.shop.facts import slug
from sparkwright.shop.tables import jobs, revisions


def free_key(connection: Connection, name: str) -> str:
    """Give a key made from a name that no job has yet.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction the job is added.
    name : str
        Name of the job as a person gave it.
    """
    wanted = slug(name)
    like = select(jobs.c.key).where(or_(jobs.c.key == wanted, jobs.c.key.startswith(f"{wanted}-")))
    taken = set(connection.execute(like).scalars())
    numbered = (f"{wanted}-{count}" for count in range(2, len(taken) + 3))
    return next(key for key in (wanted, *numbered) if key not in taken)


def started_before(connection: Connection, text: str, sent_as: str | None) -> str | None:
    """Give the key of the job that was started with a text under a word.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction the job would be added.
    text : str
        Text of the first revision.
    sent_as : str or None
        Word under which it was sent; None where there is none.
    """
    if sent_as is None:
        return None
    first = (revisions.c.job_id == jobs.c.id) & (revisions.c.number == 1)
    same = select(jobs.c.key).join(revisions, first)
    same = same.where(jobs.c.sent_as == sent_as, revisions.c.text == text)
    found: str | None = connection.execute(same).scalar()
    return found
