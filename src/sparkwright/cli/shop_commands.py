"""The commands of the store: what is in it, jobs out and in, backups, and the check of it all."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from getpass import getuser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sparkwright.cli.common import AS_JSON, GOOD, SEE, say_written
from sparkwright.cli.serve_command import SHOP, passphrase
from sparkwright.errors import Refusal

if TYPE_CHECKING:
    from sparkwright.shop import Holding, JobLine, LogLine, RevisionLine, Shop
    from sparkwright.shop.facts import LogKind

KEY = click.argument("key", metavar="JOB")
FILE = click.argument("file", metavar="FILE", type=click.Path(path_type=Path))


@click.group(invoke_without_command=True)
@click.pass_context
def shop(context: click.Context) -> int:
    """Look after the store in which jobs are kept.

    It is where --shop says, else where SPARKWRIGHT_SHOP says, else in your data folder.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())
    return GOOD


@shop.command("list")
@click.option("--find", default="", metavar="WORDS", help="Only jobs with all of these words.")
@click.option("--limit", type=int, default=50, show_default=True, help="Most jobs to list.")
@SHOP
@AS_JSON
def list_jobs(find: str, limit: int, place: str | None, as_json: bool) -> int:
    """List the jobs, the one changed last first."""
    with _opened(place) as store:
        lines, count = store.jobs.lines(search=find, limit=limit), store.jobs.count(find)
    if as_json:
        _print_record("shop-list", {"count": count, "jobs": lines})
        return GOOD
    for line in lines:
        click.echo(_in_words(line))
    if len(lines) < count:
        click.echo(f"{len(lines)} of {count} jobs; --limit shows more, --find WORDS fewer.")
    elif not lines:
        click.echo("No job has these words." if find else "There is no job yet.")
    return GOOD


def _in_words(line: JobLine) -> str:
    about = ", ".join(each for each in (line.name, line.engine, line.vehicle, line.customer) if each)
    state = "handed over" if line.handed_over else "not handed over"
    return f"{line.key}\n  {about}\n  revision {line.number}, {_time(line.when)}, {line.who}, {state}"


@shop.command()
@KEY
@SHOP
@AS_JSON
def history(key: str, place: str | None, as_json: bool) -> int:
    """Tell who changed a job when and why, newest first."""
    with _opened(place) as store:
        lines, kept = store.jobs.history(key), store.jobs.kept(key)
    if as_json:
        beside = [
            {"when": each.when, "who": each.who, "why": each.why, "based_on": each.based_on} for each in kept
        ]
        _print_record("shop-history", {"revisions": lines, "kept": beside})
        return GOOD
    click.echo(f"{lines[0].name} ({key})")
    for line in lines:
        click.echo(_revision_in_words(line))
    for each in kept:
        click.echo(
            f"Kept beside it: what {each.who} typed on revision {each.based_on} at {_time(each.when)}, "
            "while somebody else saved."
        )
    return GOOD


def _revision_in_words(line: RevisionLine) -> str:
    why = f": {line.why}" if line.why else ""
    signed = ""
    if line.handed_over_when is not None:
        signed = f", handed over {_time(line.handed_over_when)} by {line.handed_over_by}"
    return (
        f"revision {line.number}, {_time(line.when)}, {line.who}{why}\n"
        f"  fingerprint {line.fingerprint[:12]}{signed}"
    )


@shop.command("export")
@KEY
@click.option("--to", "target", type=click.Path(path_type=Path), help="The archive; else JOB.zip, here.")
@SHOP
def export_job(key: str, target: Path | None, place: str | None) -> int:
    """Write one job with its whole history and files into an archive."""
    with _opened(place) as store:
        target = target or Path(f"{store.jobs.latest(key).key}.zip")
        store.archives.write(key, target)
        _note(store, "download", key=key, about="archive")
    say_written(target)
    return GOOD


@shop.command("import")
@FILE
@click.option("--who", metavar="NAME", help="Who brings it in; else who is signed in at this machine.")
@SHOP
@AS_JSON
def import_job(file: Path, who: str | None, place: str | None, as_json: bool) -> int:
    """Read one job from an archive into the store."""
    with _opened(place, make=True) as store:
        who = who or signed_in()
        key = store.archives.bring_in(file, who=who)
        _note(store, "import", who=who, key=key)
    if as_json:
        _print_record("shop-import", {"key": key})
    else:
        click.echo(f"{key} is in the store.")
    return GOOD


@shop.command()
@FILE
@SHOP
def backup(file: Path, place: str | None) -> int:
    """Write the whole store into one file, while others work."""
    with _opened(place) as store:
        store.backup(file)
        _note(store, "backup")
    say_written(file)
    return GOOD


@shop.command()
@FILE
@SHOP
def restore(file: Path, place: str | None) -> int:
    """Make a new store from a backup; never over one that is there."""
    from sparkwright.shop import restore as restore_store
    from sparkwright.shop import usual_place

    restore_store(file, place or usual_place())
    click.echo("The store is there again.")
    return GOOD


@shop.command()
@SHOP
@AS_JSON
def check(place: str | None, as_json: bool) -> int:
    """Look through everything: whether it is there, and is what was given."""
    with _opened(place) as store:
        problems = store.check()
        count = store.jobs.count()
    if as_json:
        _print_record("shop-check", {"jobs": count, "problems": problems})
    elif problems:
        for problem in problems:
            click.echo(f"Look here: {problem}")
    else:
        click.echo(f"All is well: {count} jobs with every revision and file.")
    return SEE if problems else GOOD


@shop.command()
@KEY
@click.option("--who", metavar="NAME", help="Who removes it; else who is signed in at this machine.")
@click.option("--yes", is_flag=True, help="Don't ask for the job's name first.")
@click.option("--also-handed-over", is_flag=True, help="Remove it also if it was handed over.")
@SHOP
def remove(key: str, who: str | None, yes: bool, also_handed_over: bool, place: str | None) -> int:
    """Remove a job for good; archives and backups made before still hold it."""
    with _opened(place) as store:
        seen = store.removal.holding(key)
        click.echo(_holding_in_words(seen))
        if not yes:
            _require_name(seen.name)
        whole = store.removal.remove(seen, who=who or signed_in(), also_handed_over=also_handed_over)
    click.echo("It is removed. Backups and archives made before still hold it: delete those too.")
    if not whole:
        click.echo(
            "Other programs are using the store: until all of them have closed it, parts of what was removed "
            "can still be read in its log."
        )
    return GOOD


def _holding_in_words(seen: Holding) -> str:
    signed = f", {seen.handed_over} of them handed over" if seen.handed_over else ""
    return (
        f"{seen.name} ({seen.key}): {_counted(seen.revisions, 'revision')}{signed}, "
        f"{_counted(seen.kept_texts, 'text')} kept beside it, "
        f"{_counted(seen.evidence, 'record')} of evidence, {_counted(seen.files, 'file')}, "
        f"{_counted(seen.cases, 'case')} of the desk. "
        "Nothing brings them back."
    )


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _require_name(name: str) -> None:
    typed = click.prompt("Type the job's name to remove it for good", default="", show_default=False)
    if typed.strip() != name:
        raise Refusal.at("name", f'"{typed.strip()}"', f'must be "{name}"', "nothing was removed")


@shop.command("log")
@click.option("--limit", type=int, default=50, show_default=True, help="Most lines to show.")
@SHOP
@AS_JSON
def show_log(limit: int, place: str | None, as_json: bool) -> int:
    """Tell who signed in or tried to, and what came in and left, newest first."""
    with _opened(place) as store:
        lines = store.log.lines(limit)
    if as_json:
        _print_record("shop-log", {"lines": lines})
        return GOOD
    for line in lines:
        click.echo(_line_in_words(line))
    if not lines:
        click.echo("Nothing has happened yet.")
    return GOOD


def _line_in_words(line: LogLine) -> str:
    about = (line.key, line.about, f"by {line.who}" if line.who else "", f"from {line.place}")
    return f"{_time(line.when)}  {line.kind}: {', '.join(each for each in about if each)}"


def _note(
    store: Shop, kind: LogKind, *, who: str | None = None, key: str | None = None, about: str = ""
) -> None:
    from sparkwright.shop import HERE

    store.log.note(kind, HERE, who=who or _user(), key=key, about=about)


@contextmanager
def _opened(place: str | None, *, make: bool = False) -> Iterator[Shop]:
    from sparkwright.shop import open_shop, usual_place

    with open_shop(place or usual_place(), make=make) as store:
        yield store


def signed_in() -> str:
    """Give who is signed in at this machine, for the history."""
    user = _user()
    if not user:
        raise click.UsageError("--who must be given")
    return user


def _user() -> str:
    """Give who is signed in at this machine; "" where it can't tell."""
    try:
        return getuser()
    except (OSError, KeyError, ImportError):
        return ""


def _time(moment: datetime) -> str:
    """Say a moment in the time of this machine."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def _print_record(kind: str, results: dict[str, Any]) -> None:
    from sparkwright.sheets.record import json_text, record

    click.echo(json_text(record(kind, None, results)), nl=False)


shop.add_command(passphrase)

COMMANDS = (shop,)
"""In the order in which the help lists them."""
