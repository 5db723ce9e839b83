"""Sentences are shown, sent and compared, and nothing reads them."""

import pickle

import pytest

from sparkwright.findings import Length, Sentence
from sparkwright.sheets.record import plain
from sparkwright.web.view import environment
from sparkwright.words.parts import in_units

TOLD = "The tip stands 95.25 mm out & fires <late>."


def test_a_sentence_stands_in_the_json_as_its_text() -> None:
    assert plain({"warnings": (Sentence(TOLD),)}) == {"warnings": [TOLD]}


def test_a_page_shows_a_sentence_escaped_and_in_the_persons_units() -> None:
    shown = environment().from_string("{{ told }} {{ told | said }}").render(told=Sentence(TOLD), person=None)
    text = "The tip stands 95.25 mm out &amp; fires &lt;late&gt;."
    assert shown == f"{text} {text}"


def test_equal_sentences_are_one() -> None:
    assert {Sentence(TOLD), Sentence(TOLD), Sentence("Another.")} == {Sentence(TOLD), Sentence("Another.")}
    assert Sentence(TOLD) != TOLD  # type: ignore[comparison-overlap]


def test_a_sentence_crosses_to_another_process_whole() -> None:
    assert pickle.loads(pickle.dumps(Sentence(TOLD))) == Sentence(TOLD)


@pytest.mark.parametrize("name", [name for name in dir(str) if not name.startswith("__")])
def test_a_sentence_has_no_method_that_reads_text(name: str) -> None:
    assert not hasattr(Sentence(TOLD), name)


def test_a_sentence_cant_be_searched_or_taken_apart() -> None:
    with pytest.raises(TypeError):
        "late" in Sentence(TOLD)  # type: ignore[operator]  # noqa: B015
    with pytest.raises(TypeError):
        Sentence(TOLD)[0]  # type: ignore[index]


def test_a_length_in_a_sentence_is_told_in_the_persons_units() -> None:
    """By hand: 9.09 mm are 0.358 in, and 1,450 m are 4,757 ft."""
    sentence = Sentence("{0} at the rim, {1} up.", (Length(9.09), Length(1450.0, "g", "m")))
    assert str(sentence) == "9.1 mm at the rim, 1450 m up."
    assert in_units(sentence, "inch") == "0.358 in at the rim, 4757 ft up."


def test_what_looks_like_a_length_but_is_none_stays() -> None:
    assert in_units(Sentence("See the 5 mm {of} a title."), "inch") == "See the 5 mm {of} a title."
