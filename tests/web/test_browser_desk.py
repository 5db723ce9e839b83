"""The desk on a phone: asked by thumb, nothing too small, nothing wider than the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from playwright.sync_api import Browser, expect

from browser import violations, window
from test_browser_touch import SIZES, too_small

if TYPE_CHECKING:
    from real_workbench import Served


def test_a_case_is_asked_by_thumb_on_a_phone(bench: Served, chromium: Browser) -> None:
    found: list[str] = []
    with window(chromium, bench.address, phone=True) as here:
        page = here.open("/desk")
        page.get_by_label("Who calls").fill("Caller with a four")
        page.get_by_label("Your name").fill("A. Example")
        found += too_small(page)
        page.get_by_role("button", name="Begin the case").tap()
        expect(page.get_by_role("heading", name="What does the engine do?")).to_be_visible()
        page.get_by_label("Cranks and won't start, or has no spark").check()
        page.get_by_role("button", name="These hold; go on").tap()
        page.get_by_role("button", name="Always the same").tap()
        page.get_by_role("button", name="Can't say").tap()
        expect(page.get_by_role("heading", name="Next test:")).to_be_visible()
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            found += [f"at {width}: {each}" for each in too_small(page)]
            assert not here.is_wider_than_screen()
        page.get_by_role("button", name="Withdraw").first.tap()
        expect(page.get_by_role("heading", name="What does the engine do?")).to_be_visible()
        assert not here.faults
    assert not found, "\n".join(found)


def test_list_and_case_are_for_everybody(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, with_axe=True) as here:
        number = here.ask("/api/v1/cases", {"name": "Seen by all", "who": "A. Example"})["id"]
        answers = [
            {"question": question, "answer": answer}
            for question, answer in (("complaint", "no-start"), ("when", "always"), ("changed", "nothing"))
        ]
        said = {"who": "A. Example", "answers": answers, "own_words": ["It hums"]}
        here.ask(f"/api/v1/cases/{number}/entries", said)
        assert violations(here.open("/desk")) == []
        assert violations(here.open(f"/desk/{number}")) == []
