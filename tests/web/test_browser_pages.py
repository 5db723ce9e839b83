"""Every page: for everybody (axe-core), on every screen, light enough, and from this machine alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Browser, expect

from browser import DESKTOP, PHONE, SIZES, Window, violations, window
from workbench import OLD_FOUR, PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

PASSPHRASE = "seven brass kettles"
MOST_BYTES = 2_000_000
"""Of everything that a browser fetches for a page when it was never here before."""
HEAVIEST = ("new", "engine", "ignition", "map with contours", "what if", "light", "hand over", "compared")
"""Pages that fetch the most; the others are made of less of the same."""


@pytest.fixture(scope="module")
def key(bench: Served, chromium: Browser) -> str:
    """Give a job with two revisions, the first handed over, readings, a file and a colleague's kept text."""
    with window(chromium, bench.address) as here:
        key = here.job(PUMP_HOUSE, "Seen engine")
        page = here.open(f"/jobs/{key}/hand-over")
        expect(page.locator("input[name=read]").first).to_be_visible()
        page.wait_for_load_state()  # until the card is there, boxes still move down
        for box in page.locator("input[name=read]").all():
            box.check()
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Sign and hand over").click()
        expect(page.locator("h1")).to_contain_text("was handed over")
        rephased = here.ask(f"/api/v1/jobs/{key}", {}, "GET")["text"].replace(
            "rotor_phase_deg = 0", "rotor_phase_deg = 8"
        )
        for who in ("A. Example", "B. Example"):
            text = rephased if who == "A. Example" else rephased.replace("phase_deg = 8", "phase_deg = 9")
            sent = {"text": text, "who": who, "why": "Rephased the rotor", "based_on": 1}
            answer = here.context.request.put(f"{bench.address}/api/v1/jobs/{key}", data=sent)
            assert answer.status == (200 if who == "A. Example" else 409)
        for speed_rpm, seen_deg in ((1000, 29.6), (2000, 28.4), (3000, 27.5)):
            reading = {"commanded_deg": 30, "speed_rpm": speed_rpm, "seen_deg": seen_deg, "who": "A. Example"}
            here.ask(f"/api/v1/jobs/{key}/readings", reading)
        page = here.open(f"/jobs/{key}/history")
        file = {"name": "damper.txt", "mimeType": "text/plain", "buffer": b"mark at 0"}
        page.set_input_files("#file", file)  # type: ignore[arg-type]
        page.fill("#file-who", "A. Example")
        page.get_by_role("button", name="Add it").click()
        expect(page.get_by_role("link", name="damper.txt")).to_be_visible()
        return key


def pages_of(key: str) -> dict[str, str]:
    job = f"/jobs/{key}"
    return {
        "jobs": "/",
        "desk": "/desk",
        "nothing found": "/?find=no+such+words",
        "new": "/new",
        "new, all facts": "/new?every=1",
        "copy": f"/new?copy={key}",
        "job file": "/new/file",
        "engine": f"{job}/engine",
        "one fact": f"{job}/fact/engine.chamber",
        "ignition": f"{job}/ignition",
        "map": f"{job}/map",
        "map with contours": f"{job}/map?contours=1&line=rpm-2250",
        "axes": f"{job}/map/axes",
        "axes chosen": f"{job}/map/axes?speeds=8&loads=6",
        "axes, refused": f"{job}/map/axes?speeds=1&loads=6",
        "at a point": f"{job}/map/at?rpm=2345&load=71",
        "what if": f"{job}/map/what-if?fact=fuel.ron&value=87&number=2",
        "what if, refused": f"{job}/map/what-if?fact=fuel.ron&value=many&number=2",
        "mark": f"{job}/mark",
        "light": f"{job}/light",
        "new set": f"{job}/light?set=2",
        "dyno": f"{job}/dyno",
        "learned": f"{job}/learned",
        "first start": f"{job}/first-start",
        "another day": f"{job}/other-day?air=42+degC",
        "another day, refused": f"{job}/other-day?air=hot",
        "hand over": f"{job}/hand-over",
        "card": f"{job}/card",
        "handed over": f"{job}/hand-over?number=1",
        "old engine": f"{job}/engine?number=1",
        "old ignition": f"{job}/ignition?number=1",
        "old map": f"{job}/map?number=1",
        "history": f"{job}/history",
        "compared": f"{job}/compare?old=1&new=2",
        "not there": "/jobs/none",
    }


def refuse_new(here: Window, key: str) -> None:
    page = here.open("/new")
    page.get_by_role("button", name="Create the job").last.click()
    expect(page.locator("#problems")).to_be_visible()


def refuse_job_file(here: Window, key: str) -> None:
    page = here.open("/new/file")
    page.fill("textarea", "name = ")
    page.fill("#who", "A. Example")
    page.locator("main button.main").first.click()
    expect(page.locator("main")).to_contain_text("Nothing was saved yet")


def refuse_facts(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/engine")
    page.fill("#engine-bore", "wide")
    page.get_by_role("button", name="Save").last.click()
    expect(page.locator("#problems")).to_be_visible()


def refuse_reading(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/light")
    page.fill("#seen_deg", "late")
    page.get_by_role("button", name="Keep this reading").click()
    expect(page.get_by_role("alert")).to_be_visible()


def refuse_cells(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/map")
    page.locator("#map-grid td[data-row='15'][data-column='1']").click()
    page.keyboard.type("30")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Save as revision 3").click()
    expect(page.locator("#refused")).to_be_visible()


def test_the_keys_of_a_print_ask_for_the_whole_card(bench: Served, chromium: Browser, key: str) -> None:
    """Seen in the frame's own window; a print from the menu gets the frame at the height of the card."""
    with window(chromium, bench.address) as here:
        page = here.open(f"/jobs/{key}/hand-over")
        expect(page.frame_locator("#card").locator("h1").first).to_be_visible()
        page.evaluate(
            "document.getElementById('card').contentWindow.print = () => { window.printedCard = true }"
        )
        page.keyboard.press("Control+p")
        assert page.evaluate("window.printedCard")
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        shown_px, whole_px = page.evaluate(
            "[document.getElementById('card').clientHeight,"
            " document.getElementById('card').contentDocument.documentElement.scrollHeight]"
        )
        assert shown_px >= whole_px - 2


def test_a_printed_map_keeps_the_colours_of_its_cells(bench: Served, chromium: Browser, key: str) -> None:
    with window(chromium, bench.address) as here:
        page = here.open(f"/jobs/{key}/map")
        cell = page.locator("#map-grid td").first
        expect(cell).to_be_visible()
        page.emulate_media(media="print")
        script = "(cell) => getComputedStyle(cell).printColorAdjust"
        assert cell.evaluate(script) == "exact", "a browser leaves grounds out otherwise, and greys white ink"


def refuse_hand_over(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/hand-over")
    page.get_by_role("button", name="Sign and hand over").click()
    expect(page.locator("#refused")).to_be_visible()


def see_collision(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/history")
    page.get_by_role("link", name="See both").first.click()
    expect(page.locator("#main")).to_contain_text("Both are safe.")


def hold_a_map(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/map")
    page.get_by_text("Hold a whole map against this plan").click()
    page.fill("#map-text", "kPa\t1000\t4000\n90\t30\t40\n40\t35\t45\n")
    page.get_by_role("button", name="Hold it against the plan").click()
    expect(page.locator("#main")).to_contain_text("Take it as cells set by hand")


def ask_about_a_map(here: Window, key: str) -> None:
    page = here.open(f"/jobs/{key}/map")
    page.get_by_text("Hold a whole map against this plan").click()
    page.fill("#map-text", "rpm\t85\t40\n1000\t18\t22\n4000\t25\t26\n")
    page.get_by_role("button", name="Hold it against the plan").click()
    expect(page.locator("#main")).to_contain_text("How is it to be read?")


def open_everything(here: Window, key: str) -> None:
    """Unfold what lies folded on the busiest pages."""
    page = here.open(f"/jobs/{key}/map")
    page.locator("#map-grid td[data-row='8'][data-column='8']").click()
    page.keyboard.type("20")
    page.keyboard.press("Enter")
    expect(page.locator("#save")).to_be_visible()
    for each in page.locator("main details").all():
        each.evaluate("element => { element.open = true; }")


ACTS: tuple[Callable[[Window, str], None], ...] = (
    refuse_new,
    refuse_job_file,
    refuse_facts,
    refuse_reading,
    refuse_cells,
    refuse_hand_over,
    see_collision,
    hold_a_map,
    ask_about_a_map,
    open_everything,
)


def look_from_all_sides(here: Window, name: str) -> list[str]:
    """Look at a page at both widths, light and dark; the dark ones for contrast alone."""
    here.settle()
    found = []
    for width, size in (("desktop", DESKTOP), ("phone", PHONE)):
        here.page.set_viewport_size(size)  # type: ignore[arg-type]
        for colours in ("light", "dark"):
            here.page.emulate_media(color_scheme=colours)
            only = () if colours == "light" else ("color-contrast",)
            found += [f"{name}, {width}, {colours}: {each}" for each in violations(here.page, only)]
        if here.is_wider_than_screen():
            found.append(f"{name}, {width}: the page scrolls sideways")
    here.page.set_viewport_size(DESKTOP)  # type: ignore[arg-type]
    here.page.emulate_media(color_scheme="light")
    return found


@pytest.mark.parametrize("part", [0, 1, 2])
def test_every_page_is_for_everybody_and_fits_its_screen(
    bench: Served, chromium: Browser, key: str, part: int
) -> None:
    found = []
    with window(chromium, bench.address, with_axe=True) as here:
        for name, path in list(pages_of(key).items())[part::3]:
            here.open(path)
            found += look_from_all_sides(here, name)
    assert found == []


MOST_NEW_PX = 2600
"""Height of the short form on a phone: about three screens; a choice."""


def test_the_short_form_is_three_screens_of_a_phone(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        page = here.open("/new")
        assert page.evaluate("document.documentElement.scrollHeight") <= MOST_NEW_PX


@pytest.mark.parametrize("dark", [False, True])
def test_light_map_and_mark_are_for_everybody_at_every_size(
    bench: Served, chromium: Browser, key: str, dark: bool
) -> None:
    found = []
    with window(chromium, bench.address, phone=not dark, dark=dark, with_axe=True) as here:
        for name, place in (
            ("light", "light"),
            ("map", "map"),
            ("mark", "mark?one_1=27+before&other_1=31+after"),
            ("without the workbench", None),
        ):
            if place is None:
                # It looks whether the workbench answers, and would go on there.
                here.page.route("**/mark.*", lambda route: None)
            page = here.open(f"/jobs/{key}/{place}" if place else "/static/offline.html")
            if place is None:
                page.eval_on_selector_all("main [hidden]", "all => all.forEach(each => each.hidden = false)")
            else:
                here.settle()
            for size, (width, height, zoom) in SIZES.items():
                page.set_viewport_size({"width": int(width / zoom), "height": int(height / zoom)})
                found += [f"{name}, {size}: {each}" for each in violations(page)]
                if here.is_wider_than_screen():
                    found.append(f"{name}, {size}: the page scrolls sideways")
    assert found == []


def test_what_is_refused_is_for_everybody_too(bench: Served, chromium: Browser, key: str) -> None:
    found = []
    with window(chromium, bench.address, with_axe=True) as here:
        # What was typed is let go of, so that the next page opens without a question.
        here.page.on("dialog", lambda dialog: dialog.accept())
        for act in ACTS:
            act(here, key)
            found += look_from_all_sides(here, act.__name__)
    assert found == []


def test_a_first_visit_fetches_little(bench: Served, chromium: Browser, key: str) -> None:
    bytes_of: dict[str, int] = {}
    for name in HEAVIEST:
        path = pages_of(key)[name]
        with window(chromium, bench.address) as here:
            here.open(path)
            here.settle()
            sizes = [each.sizes() for each in here.requests if each.failure is None]
            bytes_of[name] = sum(each["responseBodySize"] + each["responseHeadersSize"] for each in sizes)
            assert sizes, name
    assert min(bytes_of.values()) > 1000
    assert max(bytes_of.values()) < MOST_BYTES, bytes_of


def test_sign_in_is_for_everybody_too(chromium: Browser, shared_bench: str) -> None:
    with window(chromium, shared_bench, with_axe=True) as here:
        page = here.open("/")
        assert look_from_all_sides(here, "sign in") == []
        page.fill("[name=who]", "A. Example")
        page.fill("[name=passphrase]", "guessed wrong")
        page.get_by_role("button", name="Sign in").click()
        expect(page.locator("main")).to_contain_text("This is not the shop's pass-phrase.")
        expect(page.locator("#who")).to_have_value("A. Example")
        assert look_from_all_sides(here, "sign in, refused") == []


def test_a_person_signs_in_and_out(chromium: Browser, shared_bench: str) -> None:
    with window(chromium, shared_bench) as here:
        page = here.open("/new/file")
        page.fill("[name=who]", "A. Example")
        page.fill("[name=passphrase]", PASSPHRASE)
        page.get_by_role("button", name="Sign in").click()
        page.fill("textarea", OLD_FOUR)
        page.locator("main button.main").first.click()
        expect(page.locator("header")).to_contain_text("revision 1")
        page.get_by_role("button", name="Sign out").click()
        here.open("/")
        expect(page.locator("[name=passphrase]")).to_be_visible()


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A workbench that asks for the pass-phrase, under this machine's own name for itself."""
    from real_workbench import served
    from sparkwright.shop import open_shop
    from sparkwright.web.sessions import set_passphrase

    place = tmp_path_factory.mktemp("shared") / "shop"
    with open_shop(place) as shop:
        set_passphrase(shop, PASSPHRASE)
    with served(place, "--listen", "0.0.0.0") as process:
        yield process.address
