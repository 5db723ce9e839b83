"""What the commands share: exit codes, options, and how results are read, shown and written."""

from __future__ import annotations

import codecs
import math
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import click

from sparkwright.errors import Refusal, SparkwrightError, printable

if TYPE_CHECKING:
    from rich.console import RenderableType

    from sparkwright.drawing.picture import Picture
    from sparkwright.findings import Finding
    from sparkwright.job import Job
    from sparkwright.plan.result import PlanResult
    from sparkwright.units import System


class Plain(click.ParamType):  # type: ignore[type-arg]  # older click knows no parameter of it
    """A plain number as people write it; the unit that it may have, and what decides how a comma is read."""

    name = "float"

    def __init__(self, unit: str = "", low: float = -math.inf, high: float = math.inf) -> None:
        self.unit, self.low, self.high = unit, low, high

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read what was typed; a default is a number already.

        Parameters
        ----------
        value : object
            Text that was typed, or a number that is a default.
        param : click.Parameter or None
            The option that it was given to, which a refusal names.
        ctx : click.Context or None
            The command that it was given to.
        """
        if not isinstance(value, str):
            return float(value)
        from sparkwright.reading import number

        name = param.opts[0] if param is not None else "number"
        return number(value, unit=self.unit, low=self.low, high=self.high, field=name)


DEGREES = Plain("deg", -180.0, 180.0)

GOOD, SEE, REFUSED, STOPPED = 0, 1, 2, 130
CUT_OFF = 141
"""What a shell says of a program whose reader went away (128 and the signal's 13): nobody saw the result."""

JOB = click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the whole result as JSON.")
READ_AS = click.option(
    "--read-as",
    "name",
    metavar="HOW",
    default="",
    help='How MAP is to be read: "upside down", "turned" ...',
)
REPLACE = click.option("--replace", is_flag=True, help="Write over files that are there already.")
PICTURES = click.option(
    "--pictures",
    "folder",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Draw the pictures into this folder, as SVG and PNG, with their numbers as CSV.",
)


def own_system() -> System:
    """Give the units that the person asked for, of the command that runs; metric outside of any."""
    context = click.get_current_context(silent=True)
    chosen: System = "metric" if context is None else context.find_root().params.get("units", "metric")
    return chosen


def load_job(path: Path) -> Job:
    """Read the job file of a command.

    Parameters
    ----------
    path : Path
        The job file.
    """
    from sparkwright.job import Job

    return Job.load(path)


@contextmanager
def all_cores() -> Iterator[Callable[..., Iterator[Any]]]:
    """Give what runs a function over many arguments on all cores, like ``map``, while a command lasts."""
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        yield pool.map


def plan_of_job(job: Job) -> PlanResult:
    """Plan the map of a job.

    Parameters
    ----------
    job : Job
        The job.
    """
    from sparkwright.plan.planner import plan as plan_of

    with all_cores() as run:
        return plan_of(job, run=run)


@contextmanager
def counted(label: str) -> Iterator[Callable[[int, int], None]]:
    """Show on a terminal how far the work is and how long it still takes; Ctrl-C stops it.

    Parameters
    ----------
    label : str
        What the work is called while it goes on.
    """
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def tell(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield tell


def show(
    kind: str,
    job: Job | None,
    result: object,
    as_json: bool,
    page: Callable[[], RenderableType],
    assumed: Sequence[object],
    warnings: Sequence[Finding | str],
) -> None:
    """Print one result, whole as JSON or laid out for a person.

    Parameters
    ----------
    kind : str
        Kind of the record, for its schema's name.
    job : Job or None
        The job that it is about; None where it is about none.
    result : object
        What was computed, whole.
    as_json : bool
        Whether it is printed as JSON.
    page : callable
        Lays it out for a person; not called for JSON.
    assumed : sequence of object
        What was taken where nothing was stated.
    warnings : sequence of Finding or str
        What is worth a look but keeps nobody from going on.
    """
    from sparkwright.sheets.record import json_text, record

    if as_json:
        click.echo(json_text(record(kind, job, result, assumed=assumed, warnings=warnings)), nl=False)
        return
    from sparkwright.cli.terminal import console

    console().print(page())


class Judged(Protocol):
    """A result with what must be put right in it, and what is worth a look."""

    @property
    def problems(self) -> Sequence[Finding]:
        """What must be put right."""

    @property
    def warnings(self) -> Sequence[Finding]:
        """What is worth a look."""


def show_beside_files(
    kind: str,
    job: Job,
    result: Judged,
    as_json: bool,
    page: Callable[[], RenderableType],
    assumed: Sequence[object],
    files: Mapping[Path, bytes],
    *,
    replace: bool,
) -> int:
    """Write the files that were asked for beside a result, print the result, and give the exit code.

    Parameters
    ----------
    kind : str
        Kind of the record, for its schema's name.
    job : Job
        The job that it is about.
    result : Judged
        What was computed, whole.
    as_json : bool
        Whether it is printed as JSON; then nothing is said of the files.
    page : callable
        Lays it out for a person; not called for JSON.
    assumed : sequence of object
        What was taken where nothing was stated.
    files : mapping
        Content of each file by its path; empty where none was asked for.
    replace : bool
        Whether files that are there may be written over.
    """
    write(files, replace=replace)
    show(kind, job, result, as_json, page, assumed, result.warnings)
    if not as_json:
        for path in files:
            say_written(path)
    return SEE if result.problems else GOOD


def require_within(name: str, value: float, low: float, high: float) -> None:
    """Refuse an option outside its range.

    Parameters
    ----------
    name : str
        What the refusal calls the option.
    value : float
        What was given.
    low : float
        Least that is allowed.
    high : float
        Most that is allowed.
    """
    if not low <= value <= high:
        raise Refusal.at(name, f"{value:g}", f"must be {low:g} to {high:g}")


def draw(pictures: Sequence[Picture], folder: Path, replace: bool) -> None:
    """Write every picture as SVG, PNG and CSV into a folder, which is made where it isn't there.

    Parameters
    ----------
    pictures : sequence of Picture
        The pictures, each with its own name.
    folder : Path
        Where they go.
    replace : bool
        Whether files that are there may be written over.
    """
    files: dict[Path, bytes] = {}
    for picture in pictures:
        files[folder / f"{picture.name}.svg"] = picture.svg("light").encode()
        files[folder / f"{picture.name}.png"] = picture.png("light")
        files[folder / f"{picture.name}.csv"] = picture.csv().encode()
    if folder.exists() and not folder.is_dir():
        raise Refusal.at("--pictures", str(folder), "must be a folder", "a file of that name is in the way")
    folder.mkdir(parents=True, exist_ok=True)
    write(files, replace=replace)


PICTURE_ENDINGS = ("svg", "png", "csv")


def free_name(folder: Path, name: str) -> str:
    """Give a name under which no picture stands in a folder yet: the one wanted, or that with a number.

    Parameters
    ----------
    folder : Path
        Where the picture goes.
    name : str
        Name that is wanted, without an ending.
    """
    numbered = (name if rank == 1 else f"{name}-{rank}" for rank in count(1))
    return next(
        each
        for each in numbered
        if not any((folder / f"{each}.{ending}").exists() for ending in PICTURE_ENDINGS)
    )


def write(files: Mapping[Path, bytes], *, replace: bool, way_out: str = " or add --replace") -> None:
    """Write files: all, or none where one is in the way.

    Parameters
    ----------
    files : mapping
        Content of each file by its path.
    replace : bool
        Whether files that are there may be written over.
    way_out : str, optional
        What the refusal tells to do where one is in the way.
    """
    for path in files:
        if not path.absolute().parent.is_dir():
            raise SparkwrightError(f"{path}: its folder is not there; make it first")
        if path.is_dir():
            raise SparkwrightError(f"{path}: is a folder; give the name of a file")
        if path.is_symlink() and not path.exists():
            raise SparkwrightError(f"{path}: is a link to nothing; name the file itself, or remove the link")
        if path.exists() and not replace:
            raise SparkwrightError(
                f"{path}: is there already and was left as it is; choose another name{way_out}"
            )
    for path, content in files.items():
        with path.open("wb" if replace else "xb") as file:
            file.write(content)


def rewrite(path: Path, text: str) -> None:
    """Put a changed text in the place of a file, whole or not at all; what marks it as UTF-8 stays.

    Parameters
    ----------
    path : Path
        The file, which is there.
    text : str
        What it shall hold.
    """
    place = path.resolve()
    beside = place.with_name(f".{place.name}.part")
    try:
        marked = place.read_bytes().startswith(codecs.BOM_UTF8)
        beside.write_bytes(text.encode("utf-8-sig" if marked else "utf-8"))
        shutil.copymode(place, beside)
        beside.replace(place)
    except OSError as problem:
        beside.unlink(missing_ok=True)
        raise SparkwrightError(f"{path}: can't be written ({problem.strerror})") from problem


def say_written(path: Path, more: str = ".") -> None:
    """Tell that a file is written, whatever letters its name has.

    Parameters
    ----------
    path : Path
        The file.
    more : str, optional
        What stands behind its name.
    """
    click.echo(f"{printable(str(path))} is written{more}")
