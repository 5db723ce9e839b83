"""The commands of installation day: top dead centre, and sheets at true scale."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace as with_changed
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict

import click

from sparkwright.cli.common import (
    AS_JSON,
    GOOD,
    JOB,
    REPLACE,
    SEE,
    load_job,
    own_system,
    plan_of_job,
    say_written,
    write,
)
from sparkwright.errors import Refusal
from sparkwright.mounting.questions import (
    MarkAsked,
    RingAsked,
    SettingAsked,
    TapeAsked,
    questions_of,
)

if TYPE_CHECKING:
    from sparkwright.drawing.true_scale import Sheet
    from sparkwright.findings import Finding
    from sparkwright.job import Job

MAYBE_JOB = click.argument("job_file", metavar="[JOB]", type=click.Path(path_type=Path), required=False)
PAPER = click.option("--paper", default="a4", show_default=True, help="a4 or letter.")
DATE = click.option("--date", default="", help="Date to print; a line to write on otherwise.")


def asking(record: type, *, without: tuple[str, ...] = ()) -> Callable[[Any], Any]:
    """Give a command an option for each question of a record, in their order.

    Parameters
    ----------
    record : type
        Record whose fields are the questions.
    without : tuple of str, optional
        Fields that get no option.
    """

    def with_options(command: Any) -> Any:
        for name, question in reversed(questions_of(record).items()):
            if name not in without:
                option = click.option(
                    question.option,
                    name,
                    default=question.usual,
                    show_default=bool(question.usual),
                    help=question.help,
                )
                command = option(command)
        return command

    return with_options


@contextmanager
def _named_as_options(record: type, more: Mapping[str, str] | None = None) -> Iterator[None]:
    """Refuse what was typed under the names of the options that it was typed behind."""
    options = {each.place: each.option for each in questions_of(record).values()} | dict(more or {})
    try:
        yield
    except Refusal as refusal:
        named = [with_changed(each, place=options.get(each.place, each.place)) for each in refusal.problems]
        raise Refusal(named) from refusal


def _maybe_job(path: Path | None) -> Job | None:
    return None if path is None else load_job(path)


@click.command()
@MAYBE_JOB
@click.option(
    "--stop", multiple=True, help="Reading at a piston stop: 27 before. Twice a try, once each side."
)
@click.option("--dial", multiple=True, help="Reading at an equal drop on a dial: 27 before. Twice a drop.")
@asking(MarkAsked, without=("method",))
@AS_JSON
def deadcentre(
    job_file: Path | None, stop: tuple[str, ...], dial: tuple[str, ...], as_json: bool, **typed: str
) -> int:
    """Find true top dead centre and the error of the balancer's mark.

    From readings on either side of the top, with a piston stop or a dial. A reading is what the balancer
    shows: "27 before", "31 after", or mm along its rim with --diameter.
    """
    from sparkwright.cli.dead_centre_page import dead_centre_page
    from sparkwright.mounting.asked import READINGS, SIDES, mark_assumed, mark_found, place_of_reading

    if bool(stop) == bool(dial):
        raise Refusal.at(
            "--stop, --dial",
            "both" if stop else None,
            "must be one of the two, with two readings a try",
            'for a piston stop: --stop "27 before" --stop "31 after"',
        )
    readings, method = stop or dial, "stop" if stop else "dial"
    tries = tuple(zip_longest(readings[::2], readings[1::2], fillvalue=""))
    asked = MarkAsked(method=method, tries=tries, **typed)
    job = _maybe_job(job_file)
    places = {place_of_reading(number, side) for number, _ in enumerate(tries, start=1) for side in SIDES}
    of_readings = dict.fromkeys((READINGS, *places), f"--{method}")
    with _named_as_options(MarkAsked, of_readings | {"stroke, rod": "--stroke, --rod"}):
        found = mark_found(asked, job)
    if as_json:
        from sparkwright.sheets.record import json_text, record

        options = {each.place: each.option for each in questions_of(MarkAsked).values()}
        assumed = [with_changed(each, field=options[each.field]) for each in mark_assumed(asked)]
        click.echo(
            json_text(record("deadcentre", job, found, assumed=assumed, warnings=found.warnings)), nl=False
        )
    else:
        from sparkwright.cli.terminal import console

        named = (job.name, job.fingerprint) if job else ("", "")
        console().print(dead_centre_page(found, *named))
    return GOOD if found.state == "good" else SEE


@click.command()
@MAYBE_JOB
@asking(TapeAsked)
@click.option("--pdf", type=click.Path(path_type=Path), help="Where to write it; timing-tape.pdf otherwise.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def tape(
    job_file: Path | None,
    pdf: Path | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
    **typed: str,
) -> int:
    """Print a timing tape for a damper, at true scale.

    It is cut into pieces where the paper is too short. Measure its control lines before you trust it.
    """
    from sparkwright.drawing.true_scale import known_paper
    from sparkwright.mounting.asked import tape_found
    from sparkwright.sheets.tape import tape_sheet

    job = _maybe_job(job_file)
    with _named_as_options(TapeAsked, {"before, after": "--before, --after"}):
        strip = tape_found(TapeAsked(**typed), job)
    page = tape_sheet(strip, paper=known_paper(paper), system=own_system(), **_named(job))
    target = _beside(job_file, pdf or Path("timing-tape.pdf"))
    _print_one("tape", job, strip, page, target, paper, date, strip.warnings, as_json, replace)
    return SEE if strip.warnings else GOOD


@click.command()
@MAYBE_JOB
@asking(RingAsked)
@click.option("--pdf", type=click.Path(path_type=Path), help="Where to write it; degree-ring.pdf otherwise.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def ring(
    job_file: Path | None,
    pdf: Path | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
    **typed: str,
) -> int:
    """Print a degree ring for the face of a pulley, at true scale, on as many sheets as it takes."""
    from sparkwright.drawing.true_scale import known_paper
    from sparkwright.mounting.asked import ring_found
    from sparkwright.sheets.degree_ring import ring_sheet

    job = _maybe_job(job_file)
    with _named_as_options(RingAsked):
        found = ring_found(RingAsked(**typed), job)
    page = ring_sheet(found, paper=known_paper(paper), system=own_system(), **_named(job))
    target = _beside(job_file, pdf or Path("degree-ring.pdf"))
    _print_one("ring", job, found, page, target, paper, date, found.warnings, as_json, replace)
    return SEE if found.warnings else GOOD


class _Named(TypedDict):
    title: str
    invented: bool
    fingerprint: str


def _named(job: Job | None) -> _Named:
    """Say whose sheet it is."""
    if job is None:
        return {"title": "Any engine", "invented": False, "fingerprint": ""}
    return {"title": job.name, "invented": job.invented, "fingerprint": job.fingerprint}


def _beside(job_file: Path | None, target: Path) -> Path:
    """Refuse to print over the job itself."""
    if job_file is not None and target.absolute() == job_file.absolute():
        raise Refusal.at("--pdf", str(target), "must not be the job itself")
    return target


def _print_one(
    kind: str,
    job: Job | None,
    result: object,
    page: Sheet,
    target: Path,
    paper: str,
    date: str,
    warnings: tuple[Finding, ...],
    as_json: bool,
    replace: bool,
) -> None:
    """Write one sheet, for a job or for any engine, and say so."""
    from sparkwright.drawing.true_scale import CONTROL_LINES, known_paper, sheet_pdf
    from sparkwright.words.told import sentences

    write(
        {target: sheet_pdf(page, paper=known_paper(paper), date=date, system=own_system())}, replace=replace
    )
    if as_json:
        from sparkwright.sheets.record import json_text, record

        results = {kind: result, "files": [str(target)]}
        click.echo(json_text(record(kind, job, results, warnings=warnings)), nl=False)
        return
    told = sentences(warnings, own_system())
    for sentence in (page.headline, page.action, *(f"Look here: {each}" for each in told)):
        click.echo(sentence)
    _, control = CONTROL_LINES[own_system()]
    click.echo(
        f"{target} is written. Print it at 100 %, and measure its two {control} lines before you trust it."
    )


@click.command()
@JOB
@click.option("--to", "folder", type=click.Path(path_type=Path), required=True, help="Folder to write into.")
@asking(SettingAsked)
@PAPER
@DATE
@AS_JSON
@REPLACE
def sheets(
    job_file: Path,
    folder: Path,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
    **typed: str,
) -> int:
    """Print the sheets of installation day: bench, cap plan, rotor phasing, static setting, at true scale."""
    from sparkwright.drawing.true_scale import CONTROL_LINES, known_paper, sheet_pdf
    from sparkwright.mounting.asked import day_of, setting_found
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.sheets.installation import day_sheets
    from sparkwright.words.told import sentences

    size, job = known_paper(paper), load_job(job_file)
    with _named_as_options(SettingAsked):
        setting = setting_found(SettingAsked(**typed), job)
    planned = plan_of_job(job)
    hardware = check_of(job, planned)
    day = day_of(job, planned, hardware, setting)
    printed = day_sheets(day, job, own_system())
    files = {
        folder / f"{name}.pdf": sheet_pdf(page, paper=size, date=date, system=own_system())
        for name, page in printed.items()
    }
    if folder.exists() and not folder.is_dir():
        raise Refusal.at("--to", str(folder), "must be a folder", "a file of that name is in the way")
    folder.mkdir(parents=True, exist_ok=True)
    write(files, replace=replace)
    assumed = dict.fromkeys((*planned.assumed, *hardware.assumed))
    warnings = (*day.cap.warnings, *setting.warnings)
    if as_json:
        from sparkwright.sheets.record import json_text, record

        results = {
            "before": day.before,
            "cap": day.cap,
            "phasing": day.phasing,
            "static": setting,
            "files": [str(path) for path in files],
        }
        click.echo(json_text(record("sheets", job, results, assumed=assumed, warnings=warnings)), nl=False)
    else:
        for path, page in zip(files, printed.values(), strict=True):
            say_written(path, f": {page.headline}")
        for sentence in sentences(warnings, own_system()):
            click.echo(f"Look here: {sentence}")
        _, control = CONTROL_LINES[own_system()]
        click.echo(f"Print them at 100 %, and measure the two {control} lines on each before you trust it.")
    unfit = bool(day.before.troubles)
    wrong = unfit or day.phasing.state == "problem" or day.cap.stated_order_agrees is False
    return SEE if wrong else GOOD


COMMANDS = (deadcentre, tape, ring, sheets)
"""In the order in which the help lists them."""
