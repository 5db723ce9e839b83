"""The command line: one command a step. It reads, asks, shows; it computes nothing itself.

Exit code 0: good. 1: there is something about engine or ignition that the person must see. 2: what was
given can't be used; the reason stands on the error stream and nothing was written.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import click

from sparkwright import __version__
from sparkwright.errors import InputError, JobError, SparkwrightError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from sparkwright.job import Job
    from sparkwright.plan.result import PlanResult
    from sparkwright.sheets.picture import Picture

GOOD, SEE, REFUSED, STOPPED = 0, 1, 2, 130

BEFORE_IT_RUNS = (
    "Before this map runs an engine: prove base and one held advance with a timing light, clear of fan and "
    "belts; load the engine step by step, and take timing out at the first knock."
)

JOB = click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the whole result as JSON.")
REPLACE = click.option("--replace", is_flag=True, help="Write over files that are there already.")
PICTURES = click.option(
    "--pictures",
    "folder",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Draw the pictures into this folder, as SVG and PNG, with their numbers as CSV.",
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]}, invoke_without_command=True)
@click.version_option(__version__, message="sparkwright %(version)s")
@click.pass_context
def commands(context: click.Context) -> int:
    """Plan and prove the ignition timing of engines that fire through a distributor.

    It is advice for a person at the engine: prove every value on the engine, with the emission law and
    the licences of your place. Start with `sparkwright new my-engine.toml`.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())
    return GOOD


@commands.command()
@click.argument("file", type=click.Path(path_type=Path))
def new(file: Path) -> int:
    """Write a commented starter job file."""
    from sparkwright.job import starter_text

    _write({file: starter_text().encode()}, replace=False, way_out="")
    click.echo(f"{file} is written. Put your engine's values in, then: sparkwright check {file}")
    return GOOD


@commands.command()
def schema() -> int:
    """Print the JSON Schema of a job file, for editors."""
    import json

    from sparkwright.job import job_schema

    click.echo(json.dumps(job_schema(), indent=2, ensure_ascii=False))
    return GOOD


@commands.command()
@JOB
@AS_JSON
@PICTURES
@REPLACE
def check(job_file: Path, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Check whether this ignition can deliver it.

    Rotor and cap, coil and driver, cranking, wiring and preparation.
    """
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.sheets.cap import cap_picture
    from sparkwright.sheets.dwell import dwell_picture
    from sparkwright.sheets.terminal import hardware_page

    job = _load(job_file)
    planned = _plan(job)
    result = check_of(job, planned)
    if folder is not None:
        pictures = [cap_picture(result, planned)]
        if result.dwell is not None:
            pictures.append(dwell_picture(result))
        _draw(pictures, folder, replace)
    _show("check", job, result, as_json, lambda: hardware_page(result), result.assumed, result.warnings)
    return SEE if result.problems else GOOD


@commands.command()
@JOB
@click.option("--rpm", type=float, required=True, help="Engine speed.")
@click.option("--kpa", type=float, required=True, help="Manifold pressure, absolute.")
@AS_JSON
@PICTURES
@REPLACE
def point(job_file: Path, rpm: float, kpa: float, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Show torque against advance at one speed and load."""
    from sparkwright.plan.physics import physics_of
    from sparkwright.plan.point import point as hook_at
    from sparkwright.sheets.hook import hook_picture
    from sparkwright.sheets.terminal import hook_page

    job = _load(job_file)
    _require_within("--rpm", rpm, 100, 12000)
    _require_within("--kpa", kpa, 10, 400)
    hook = hook_at(job, rpm, kpa)
    if folder is not None:
        _draw([hook_picture(hook)], folder, replace)
    _show(
        "point",
        job,
        hook,
        as_json,
        lambda: hook_page(job.name, job.fingerprint, hook),
        physics_of(job).assumed,
        hook.outside,
    )
    return SEE if hook.burn_state == "misfire" else GOOD


@commands.command()
@JOB
@AS_JSON
@PICTURES
@REPLACE
def plan(job_file: Path, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Plan the map, and say what holds each cell."""
    from sparkwright.sheets.map_grid import map_grid_picture
    from sparkwright.sheets.map_picture import map_picture
    from sparkwright.sheets.ribbon import ribbon_picture
    from sparkwright.sheets.terminal import console, plan_page

    job = _load(job_file)
    result = _plan(job)
    if folder is not None:
        pictures = [
            map_picture(result),
            map_grid_picture(result),
            ribbon_picture(result.full_load, "full-load"),
            ribbon_picture(result.cruise, "cruise"),
        ]
        _draw(pictures, folder, replace)
    _show(
        "plan",
        job,
        result,
        as_json,
        lambda: plan_page(result, console().width),
        result.assumed,
        result.warnings,
    )
    return SEE if result.problems else GOOD


@commands.command()
@JOB
@click.option(
    "--pdf", type=click.Path(path_type=Path), help="Where to write the PDF; beside the job otherwise."
)
@click.option(
    "--html", type=click.Path(path_type=Path), help="Where to write the page; beside the job otherwise."
)
@click.option("--paper", default="a4", show_default=True, help="a4 or letter.")
@click.option("--date", default="", help="Date to print; a line to write on otherwise.")
@AS_JSON
@REPLACE
def card(
    job_file: Path,
    pdf: Path | None,
    html: Path | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
) -> int:
    """Print the hand-over card, as PDF and HTML."""
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.sheets.card import Paper, card_html, card_pdf

    job = _load(job_file)
    pdf, html = pdf or job_file.with_suffix(".pdf"), html or job_file.with_suffix(".html")
    if len({path.absolute() for path in (pdf, html, job_file)}) < 3:
        raise InputError("--pdf, --html", f"{pdf}, {html}", "must be two files, and neither the job itself")
    size = next((each for each in get_args(Paper) if each == paper), None)
    if size is None:
        raise InputError("--paper", f'"{paper}"', 'must be "a4" or "letter"')
    result = _plan(job)
    hardware = check_of(job, result)
    pages = {
        pdf: card_pdf(result, hardware, job, paper=size, date=date),
        html: card_html(result, hardware, job, paper=size, date=date).encode(),
    }
    _write(pages, replace=replace)
    problems = tuple(dict.fromkeys((*result.problems, *hardware.problems)))
    if as_json:
        from sparkwright.sheets.record import json_text, record

        results = {"plan": result, "check": hardware, "files": [str(path) for path in pages]}
        assumed = dict.fromkeys((*result.assumed, *hardware.assumed))
        warnings = dict.fromkeys((*result.warnings, *hardware.warnings))
        click.echo(json_text(record("card", job, results, assumed=assumed, warnings=warnings)), nl=False)
    else:
        for path in pages:
            click.echo(f"{path} is written.")
        for sentence in problems:
            click.echo(f"Look here: {sentence}")
    return SEE if problems else GOOD


@commands.command()
@JOB
@click.argument("map_file", metavar="MAP", type=click.Path(path_type=Path))
@AS_JSON
def compare(job_file: Path, map_file: Path, as_json: bool) -> int:
    """Hold a map against the plan.

    Says which cells stand over which ceiling, and by how much. MAP is CSV, tab-separated text or JSON, as
    `sparkwright export` writes it.
    """
    from sparkwright.plan.compare import compare_map
    from sparkwright.plan.exchange import load_map
    from sparkwright.sheets.terminal import comparison_page

    job = _load(job_file)
    given = load_map(map_file)
    # The plan is made on the map's own axes, so that each of its cells meets its own ceilings.
    planned = _plan(job.changed("controller", rpm=given.rpm.tolist(), kpa=given.kpa.tolist()))
    result = replace(compare_map(planned, given), fingerprint=job.fingerprint)
    _show("compare", job, result, as_json, lambda: comparison_page(result), planned.assumed, result.warnings)
    return SEE if result.problems else GOOD


@commands.command()
@JOB
@click.option("--as", "form", default="csv", show_default=True, help="csv, tsv (to paste) or json.")
@click.option("--to", "target", type=click.Path(path_type=Path), help="Write this file instead of printing.")
@click.option("--bare", is_flag=True, help="Cells only, for a table that has its axes.")
@click.option("--highest-load-first", is_flag=True, help="Turn the rows over.")
@REPLACE
def export(
    job_file: Path, form: str, target: Path | None, bare: bool, highest_load_first: bool, replace: bool
) -> int:
    """Write the map as text, to keep or to paste."""
    from sparkwright.plan.exchange import FORMS, write_map

    job = _load(job_file)
    chosen = next((each for each in FORMS if each == form), None)
    if chosen is None:
        raise InputError("--as", f'"{form}"', f"must be one of {', '.join(FORMS)}")
    result = _plan(job)
    text = write_map(result.spark_map, chosen, bare=bare, highest_load_first=highest_load_first)
    if target is None:
        click.echo(text, nl=False)
    else:
        _write({target: text.encode()}, replace=replace)
        click.echo(f"{target} is written.")
    for sentence in result.problems:
        click.echo(f"Look here: {sentence}", err=True)
    click.echo(BEFORE_IT_RUNS, err=True)
    return SEE if result.problems else GOOD


def _load(path: Path) -> Job:
    from sparkwright.job import Job

    return Job.load(path)


def _plan(job: Job) -> PlanResult:
    from sparkwright.plan.planner import plan as plan_of

    return plan_of(job)


def _show(
    kind: str,
    job: Job,
    result: object,
    as_json: bool,
    page: Callable[[], RenderableType],
    assumed: Sequence[object],
    warnings: Sequence[str],
) -> None:
    """Print one result, whole as JSON or laid out for a person."""
    from sparkwright.sheets.record import json_text, record

    if as_json:
        click.echo(json_text(record(kind, job, result, assumed=assumed, warnings=warnings)), nl=False)
        return
    from sparkwright.sheets.terminal import console

    console().print(page())


def _require_within(name: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise InputError(name, f"{value:g}", f"must be {low:g} to {high:g}")


def _draw(pictures: Sequence[Picture], folder: Path, replace: bool) -> None:
    """Write every picture as SVG, PNG and CSV into a folder, which is made where it isn't there."""
    files: dict[Path, bytes] = {}
    for picture in pictures:
        files[folder / f"{picture.name}.svg"] = picture.svg("light").encode()
        files[folder / f"{picture.name}.png"] = picture.png("light")
        files[folder / f"{picture.name}.csv"] = picture.csv().encode()
    if folder.exists() and not folder.is_dir():
        raise InputError("--pictures", str(folder), "must be a folder", "a file of that name is in the way")
    folder.mkdir(parents=True, exist_ok=True)
    _write(files, replace=replace)


def _write(files: Mapping[Path, bytes], *, replace: bool, way_out: str = " or add --replace") -> None:
    """Write files: all, or none where one is in the way."""
    for path in files:
        if not path.absolute().parent.is_dir():
            raise SparkwrightError(f"{path}: its folder is not there; make it first")
        if path.is_dir():
            raise SparkwrightError(f"{path}: is a folder; give the name of a file")
        if path.exists() and not replace:
            raise SparkwrightError(
                f"{path}: is there already and was left as it is; choose another name{way_out}"
            )
    for path, content in files.items():
        path.write_bytes(content)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code; what can't be used ends in a sentence, never in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that can't show a letter of a customer's name gets its escape, not a crash.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = commands.main(
            args=None if arguments is None else list(arguments),
            prog_name="sparkwright",
            standalone_mode=False,
        )
    except JobError as refusal:
        return _refused(refusal.problems)
    except SparkwrightError as refusal:
        return _refused([str(refusal)])
    except click.ClickException as refusal:
        return _refused([_usage(refusal)])
    except click.Abort:
        return STOPPED
    except BrokenPipeError:
        # Whoever read our output has enough; leave without a word.
        sys.stderr.close()
        return GOOD
    except OSError as problem:
        return _refused(
            [f"{problem.filename}: can't be read or written ({(problem.strerror or '').lower()})"]
        )
    return code if isinstance(code, int) else GOOD


def _refused(sentences: Sequence[str]) -> int:
    for sentence in sentences:
        click.echo(sentence, err=True)
    return REFUSED


def _usage(refusal: click.ClickException) -> str:
    """Say what was wrong with the command in a sentence, and where to read more."""
    context = refusal.ctx if isinstance(refusal, click.UsageError) else None
    command = context.command_path if context is not None else "sparkwright"
    if isinstance(refusal, click.MissingParameter):
        name = refusal.param.make_metavar(context) if refusal.param and context else "something"
        hint = refusal.param.opts[0] if refusal.param and refusal.param.opts[0].startswith("-") else name
        said = f"{hint} must be given"
    elif isinstance(refusal, click.BadParameter):
        name = refusal.param.opts[0] if refusal.param else "a value"
        said = f"{name}: {refusal.message.rstrip('.')}".replace("is not a valid float", "is not a number")
    else:
        said = refusal.format_message().rstrip(".")
    return f"{said}; `{command} --help` says how"


if __name__ == "__main__":
    sys.exit(main())
