"""Processes that open a store at the same moment; a program of its own, warmed once and forked for each.

Arguments: address of the store, how many. Each starts a job; prints the keys.
"""

from __future__ import annotations

import os
import sys
import traceback

import alembic.migration
import alembic.operations
import alembic.script

from databases import BENCH, Here

WARMED = (alembic.migration, alembic.operations, alembic.script)
"""Loaded before the start, so that nobody is late."""


def open_and_start(address: str, go: int) -> None:
    os.read(go, 1)
    with Here(address, None).open() as shop:
        print(shop.jobs.create(BENCH, who="A. Example", why="").key, flush=True)


def main() -> None:
    address, people = sys.argv[1], int(sys.argv[2])
    go, start = os.pipe()
    children = []
    for _ in range(people):
        child = os.fork()
        if child == 0:
            os.close(start)
            try:
                open_and_start(address, go)
            except BaseException:
                traceback.print_exc()
                os._exit(1)
            os._exit(0)
        children.append(child)
    os.close(start)
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    sys.exit(max(codes))


if __name__ == "__main__":
    main()
