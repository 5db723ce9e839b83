"""The pages, in the order of the work."""

from sparkwright.web.pages import (
    engine,
    facts,
    files,
    hand_over,
    history,
    ignition,
    job,
    jobs,
    light,
    map_changes,
    map_files,
    marking,
    new,
    personal,
    spark_map,
    what_if,
)

PAGES = (
    personal.router,
    jobs.router,
    new.router,
    job.router,
    facts.router,
    engine.router,
    ignition.router,
    spark_map.router,
    map_changes.router,
    what_if.router,
    map_files.router,
    marking.router,
    light.router,
    hand_over.router,
    history.router,
    files.router,
)
