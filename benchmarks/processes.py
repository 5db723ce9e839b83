"""Ending a process that leads a group of its own (`process_group=0`), with all that it has begun."""

from __future__ import annotations

import os
import signal
import subprocess
from contextlib import suppress

ENDS_WITHIN_S = 30.0


def end_whole(process: subprocess.Popen[str], how: signal.Signals = signal.SIGINT) -> None:
    """Tell a process to end, then kill whatever is left of its group, so that nothing outlives a test."""
    try:
        process.send_signal(how)
        with suppress(subprocess.TimeoutExpired):
            process.wait(ENDS_WITHIN_S)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        for stream in (process.stdin, process.stdout, process.stderr):
            if stream is not None:
                stream.close()
