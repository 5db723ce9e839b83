"""What the container file and the service say, taken apart for tests."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

ROOT = Path(__file__).parents[1]
CONTAINERFILE = ROOT / "packaging" / "Containerfile"
UNIT = ROOT / "packaging" / "sparkwright.service"
PREFIX = "/opt/sparkwright"


def instructions() -> list[tuple[str, str]]:
    """Give each instruction of the container file with all that belongs to it, in one line."""
    lines = (each for each in CONTAINERFILE.read_text().splitlines() if not each.startswith("#"))
    joined = "\n".join(lines).replace("\\\n", " ")
    found = (each.partition(" ") for each in joined.splitlines() if each.strip())
    return [(name, " ".join(rest.split())) for name, _, rest in found]


def said(name: str) -> list[str]:
    """Give all that stands behind an instruction, each time it is given."""
    return [rest for each, rest in instructions() if each == name]


def steps() -> list[list[str]]:
    """Give every command that is run while the image is made, word by word."""
    commands = (each for rest in said("RUN") for each in rest.split(" && "))
    return [shlex.split(each) for each in commands]


def started() -> list[str]:
    """Give what the container starts, word by word."""
    (entry,), (command,) = said("ENTRYPOINT"), said("CMD")
    return [*json.loads(entry), *json.loads(command)]


def asked_for_health() -> list[str]:
    """Give the command that asks whether the container is well."""
    (check,) = said("HEALTHCHECK")
    words: list[str] = json.loads(check.removeprefix("CMD "))
    return words


def unit() -> dict[str, list[str]]:
    """Give what the service says, by key."""
    found: dict[str, list[str]] = {}
    for line in UNIT.read_text().splitlines():
        key, sign, value = line.partition("=")
        if sign and not line.startswith("#"):
            found.setdefault(key, []).append(value)
    return found
