"""Serving processes that start in a moment: each is forked from one that has loaded the program already.

Run with the place of a store. For each line read it forks a server and writes its process id and its address.
Only the server that is killed is thrown away; so a test can afford hundreds.
"""

from __future__ import annotations

import os
import signal
import sys

from sparkwright.shop import open_shop
from sparkwright.web.serve import listen_on, serving
from sparkwright.web.settings import Settings


def main(place: str) -> None:
    """Fork a server for each line; they are children, reaped when they have been killed."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        taken = listen_on("127.0.0.1", 0)
        child = os.fork()
        if child == 0:
            with open_shop(place) as shop:
                serving(shop, taken, Settings())
            os._exit(0)
        print(child, f"http://127.0.0.1:{taken.getsockname()[1]}", flush=True)
        taken.close()


if __name__ == "__main__":
    main(sys.argv[1])
