"""The command of the desk: from what a caller says to the test that settles most, asked or given at once."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sparkwright.cli.common import AS_JSON, GOOD, REPLACE, load_job, say_written, write
from sparkwright.cli.serve_command import SHOP
from sparkwright.errors import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sparkwright.desk.advice import Advice, QuestionNow, TestNow
    from sparkwright.desk.case import Case, Entry
    from sparkwright.desk.knowledge import Given, Knowledge
    from sparkwright.desk.noticed import Found
    from sparkwright.drawing.true_scale import Paper
    from sparkwright.job import Job
    from sparkwright.light.verdict import LightResult
    from sparkwright.shop import Shop

BACK, SKIP, RANKING, TESTS, END = "back", "skip", "causes", "tests", "end"
"""What may be typed in the dialogue beside a number; anything else is kept as the caller's own words."""


@dataclass(frozen=True)
class _Desk:
    """What stays the same while one case is asked about."""

    knowledge: Knowledge
    job: Job | None
    found: Found
    shop: Shop | None
    who: str

    def advice(self, case: Case) -> Advice:
        from sparkwright.desk.advice import advise

        closed: Mapping[str, int] = self.shop.cases.closed() if self.shop else {}
        return advise(self.knowledge, case, self.found, closed)

    def noted(self, case: Case, entries: Iterable[Entry]) -> Case:
        """Add to a case, in the store where it is kept."""
        said = list(entries)
        if self.shop is not None and case.id:
            return self.shop.cases.add(case.id, said, who=self.who) if said else case
        said = list(case.new_in(said))
        first = 1 + max((each.id for each in case.entries), default=0)
        numbered = (replace(each, id=number) for number, each in enumerate(said, first))
        return replace(case, entries=(*case.entries, *numbered))


@click.command()
@click.argument("job_file", metavar="[JOB]", required=False, type=click.Path(path_type=Path))
@click.option("--light", "light_file", type=click.Path(path_type=Path), help="Light readings of the job.")
@click.option(
    "--drive",
    "drive_files",
    multiple=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A log of a drive of the job; repeat it for the parts of one drive.",
)
@click.option("--answer", "answers", multiple=True, metavar="QUESTION=ANSWER", help="An answer; repeatable.")
@click.option("--tests", "lists_tests", is_flag=True, help="List every test and its answers, and end.")
@click.option("--cannot", "cannot", multiple=True, metavar="QUESTION", help="What can't be answered or done.")
@click.option("--words", "own_words", multiple=True, metavar="TEXT", help="The caller's own words, kept.")
@click.option(
    "--knowledge",
    "own",
    multiple=True,
    metavar="PATH",
    type=click.Path(path_type=Path),
    help="The shop's own causes and tests: a TOML file, or a folder of them.",
)
@click.option("--ask/--no-ask", default=None, help="Ask on the terminal; else only where nothing is given.")
@click.option(
    "--sheet", "sheet", type=click.Path(path_type=Path), help="Write the next test to send: .pdf or .html."
)
@click.option("--paper", default="a4", show_default=True, help="a4 or letter.")
@click.option("--keep", "keep", metavar="NAME", help="Keep the case in the store under this name.")
@click.option("--case", "number", type=int, metavar="NUMBER", help="Go on with a case that is kept.")
@click.option("--withdraw", "withdraw", type=int, multiple=True, help="Withdraw this entry of a kept case.")
@click.option("--closed-as", "closed_as", metavar="CAUSE", help="Close a kept case with what it was.")
@click.option("--who", default="", help="Who notes it; your name on this machine otherwise.")
@SHOP
@AS_JSON
@REPLACE
def desk(
    job_file: Path | None,
    light_file: Path | None,
    drive_files: tuple[Path, ...],
    answers: tuple[str, ...],
    lists_tests: bool,
    cannot: tuple[str, ...],
    own_words: tuple[str, ...],
    own: tuple[Path, ...],
    ask: bool | None,
    sheet: Path | None,
    paper: str,
    keep: str | None,
    number: int | None,
    withdraw: tuple[int, ...],
    closed_as: str | None,
    who: str,
    place: str | None,
    as_json: bool,
    replace: bool,
) -> int:
    """Find the cause of what an engine does wrong, by the test that settles most for its time.

    With JOB what the program finds on that engine counts too: reach, coil, wiring, with --light its readings,
    and with --drive what a drive of it shows. Without answers it asks, one question at a time; with them it
    answers at once. It is advice: each cause is to be proved before anything is changed.
    """
    from sparkwright.desk.case import spoken
    from sparkwright.desk.knowledge_files import read_knowledge
    from sparkwright.drawing.true_scale import known_paper

    on_paper = known_paper(paper)
    if sheet is not None and sheet.suffix.lower() not in (".pdf", ".html"):
        raise Refusal.at("--sheet", str(sheet), "must end in .pdf or .html")
    if (withdraw or closed_as) and number is None:
        raise Refusal.at("--case", None, "must be given", "only a case that is kept can be closed or changed")
    job = load_job(job_file) if job_file else None
    knowledge = read_knowledge(*own)
    for problem in knowledge.left_out:
        click.echo(f"Left out: {problem}", err=True)
    if lists_tests:
        return _list_tests(knowledge)
    said = _entries(knowledge, answers, cannot, own_words, withdraw, closed_as)
    with ExitStack() as until_done:
        shop = _shop(place, until_done) if keep or number is not None or place else None
        case = shop.cases.case(number) if shop is not None and number is not None else spoken()
        kept_light = None
        if shop is not None and job is None and case.job is not None:
            job, kept_light = _of_its_job(shop, case.job)
        by = who or _user()
        of = _Desk(knowledge, job, _found(job, light_file, drive_files, kept_light), shop, by)
        if shop is not None and keep and number is None:
            case = shop.cases.open(keep, who=by)
        case = of.noted(case, said)
        asks = (sys.stdin.isatty() and not said and not as_json) if ask is None else ask
        if asks:
            case = _dialogue(of, case)
        advice = of.advice(case)
    _show(advice, job, as_json, asks)
    if sheet is not None:
        write({sheet: _sheet(advice, job, sheet, on_paper)}, replace=replace)
        if not as_json:
            say_written(sheet)
    return GOOD


def _sheet(advice: Advice, job: Job | None, path: Path, paper: Paper) -> bytes:
    from sparkwright.sheets.desk import caller_html, caller_pdf

    if path.suffix.lower() == ".html":
        return caller_html(advice, job).encode()
    return caller_pdf(advice, job, paper=paper)


def _shop(place: str | None, until_done: ExitStack) -> Shop:
    from sparkwright.shop import open_shop, usual_place

    return until_done.enter_context(open_shop(place or usual_place()))


def _user() -> str:
    from getpass import getuser

    try:
        return getuser()
    except (KeyError, OSError):
        return "nobody"


def _list_tests(knowledge: Knowledge) -> int:
    from sparkwright.cli.desk_page import tests_page
    from sparkwright.cli.terminal import console

    console().print(tests_page(knowledge))
    return GOOD


def _of_its_job(shop: Shop, key: str) -> tuple[Job, LightResult | None]:
    """Give the job that a kept case is about, and what its newest light readings say."""
    from sparkwright.evidence.light_sets import latest_check

    job = shop.jobs.latest(key).job
    return job, latest_check(job, shop.evidence.of_job(key, "light-reading"))


def _found(
    job: Job | None, light_file: Path | None, drive_files: tuple[Path, ...], light: LightResult | None
) -> Found:
    if job is None:
        if light_file is not None:
            raise Refusal.at("--light", str(light_file), "needs a job", "give the job file before it")
        if drive_files:
            raise Refusal.at("--drive", str(drive_files[0]), "needs a job", "give the job file before it")
        return {}
    from sparkwright.desk.noticed import found_on

    if light_file is not None:
        from sparkwright.light.readings import load_readings
        from sparkwright.light.verdict import check_light

        light = check_light(job, load_readings(light_file))
    drive = None
    if drive_files:
        from sparkwright.drive.drives import drive_of

        drive = drive_of(job, drive_files)
    return found_on(job, light, drive=drive)


def _entries(
    knowledge: Knowledge,
    answers: Iterable[str],
    cannot: Iterable[str],
    own_words: Iterable[str],
    withdraw: Iterable[int],
    closed_as: str | None,
) -> list[Entry]:
    from sparkwright.desk.case import Entry

    given = [_given(knowledge, each) for each in answers]
    for each in cannot:
        knowledge.require_question(each)
    if closed_as is not None:
        knowledge.require_cause(closed_as)
    return [
        *(Entry(0, "answer", each.question, each.answer) for each in given),
        *(Entry(0, "cannot", each) for each in cannot),
        *(Entry(0, "words", text=each) for each in own_words),
        *(Entry(0, "withdrawn", withdraws=each) for each in withdraw),
        *([] if closed_as is None else [Entry(0, "closed", answer=closed_as)]),
    ]


def _given(knowledge: Knowledge, text: str) -> Given:
    from sparkwright.desk.knowledge import Given

    question, sign, answer = text.partition("=")
    if not sign:
        raise Refusal.at("--answer", f'"{text}"', "must be QUESTION=ANSWER", "such as --answer when=hot")
    knowledge.require_known(question.strip(), answer.strip())
    return Given(question=question.strip(), answer=answer.strip())


def _show(advice: Advice, job: Job | None, as_json: bool, asked: bool) -> None:
    if as_json:
        from sparkwright.sheets.record import json_text, record

        click.echo(json_text(record("desk", job, advice, warnings=advice.contradictions)), nl=False)
        return
    from sparkwright.cli.desk_page import desk_page
    from sparkwright.cli.terminal import console

    console().print(desk_page(advice, short=asked))


def _dialogue(of: _Desk, case: Case) -> Case:
    """Ask one thing after another until a cause is to be proved, or the person ends it."""
    from sparkwright.cli.desk_page import asked_page, causes_page, tests_page
    from sparkwright.cli.terminal import console

    screen = console()
    while True:
        advice = of.advice(case)
        asked = advice.question or advice.test
        if asked is None:
            return case
        screen.print(asked_page(advice))
        typed = click.prompt("", prompt_suffix="> ", default="", show_default=False).strip()
        if typed in (END, ""):
            return case
        if typed == RANKING:
            screen.print(causes_page(advice))
        elif typed == TESTS:
            screen.print(tests_page(of.knowledge))
        else:
            case = of.noted(case, _typed(of.knowledge, case, asked, typed))


def _typed(knowledge: Knowledge, case: Case, asked: QuestionNow | TestNow, typed: str) -> list[Entry]:
    """Make of what was typed what is noted: answers by number or name, a skip, a step back, or own words."""
    from sparkwright.desk.case import Entry

    if typed == SKIP:
        return [Entry(0, "cannot", asked.id)]
    if typed == BACK:
        return [Entry(0, "withdrawn", withdraws=each.id) for each in case.standing[-1:]]
    numbers = typed.replace(",", " ").split()
    if all(each.isdecimal() and 1 <= int(each) <= len(asked.answers) for each in numbers):
        chosen = dict.fromkeys(asked.answers[int(each) - 1].id for each in numbers)
        return [Entry(0, "answer", asked.id, each) for each in chosen]
    if "=" in typed:
        try:
            given = _given(knowledge, typed)
        except Refusal as problem:
            click.echo(problem)
        else:
            return [Entry(0, "answer", given.question, given.answer)]
    click.echo(
        "That is no answer of the list. It is kept with the case, in these words, and moves no number."
    )
    return [Entry(0, "words", text=typed)]


COMMANDS = (desk,)
