"""Keeping: jobs, their revisions and what is attached to them, in SQLite or PostgreSQL."""

from sparkwright.shop.backup import restore
from sparkwright.shop.facts import (
    Attachment,
    Holding,
    JobLine,
    KeptText,
    LogLine,
    Mark,
    Revision,
    RevisionLine,
)
from sparkwright.shop.learning_runs import LearningRun, LearningRuns
from sparkwright.shop.log import HERE
from sparkwright.shop.place import usual_place
from sparkwright.shop.refusals import AtPlaceError, NotThereError, SavedElsewhereError, ShopError
from sparkwright.shop.store import Shop, open_shop
from sparkwright.shop.tries import TryLimits

__all__ = [
    "HERE",
    "AtPlaceError",
    "Attachment",
    "Holding",
    "JobLine",
    "KeptText",
    "LearningRun",
    "LearningRuns",
    "LogLine",
    "Mark",
    "NotThereError",
    "Revision",
    "RevisionLine",
    "SavedElsewhereError",
    "Shop",
    "ShopError",
    "TryLimits",
    "open_shop",
    "restore",
    "usual_place",
]
