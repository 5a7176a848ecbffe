"""The same as lines of text."""

import pytest

from handsfree.bench import Bench, Exchange
from handsfree.live.state import Ears, LiveState
from handsfree.record import Journal
from handsfree.show.plain import change_lines, exchange_lines
from handsfree.speak import SILENCE
from handsfree.understand import Decision, Outcome
from tests.show.scenes import PLAN

pytestmark = pytest.mark.quick


def test_keyed_entry_and_its_answer_are_two_lines():
    bench = Bench(PLAN, Journal.in_memory())
    (greeting,) = exchange_lines(bench.open())
    assert greeting.startswith("answer: Ready. Any key or word skips the cautions. Wear eye protection; ")
    assert greeting.endswith(" First, one top.")
    assert exchange_lines(bench.key("16")) == ["keyed: 16 Enter", "answer: One top, sixteen. File two."]
    assert exchange_lines(bench.key(""))[0] == "keyed: Enter"


def test_chatter_is_no_line_and_a_question_says_that_it_is_unsure():
    ignored = Exchange("voice", "what a day", (), (), SILENCE, None, Decision(Outcome.IGNORE))
    assert exchange_lines(ignored) == []
    asked = Exchange("voice", "fifteen", (), (), SILENCE, None, Decision(Outcome.ASK))
    assert exchange_lines(asked) == ["unsure: fifteen"]


def test_trouble_is_told_when_it_comes_and_when_it_goes():
    well, ill = LiveState(ears=Ears.LISTENING), LiveState(ears=Ears.DEAF, trouble=("Microphone lost.",))
    assert change_lines(well, ill) == ["trouble: Microphone lost.", "ears: no microphone"]
    assert change_lines(ill, well) == ["over: Microphone lost.", "ears: listening"]
    assert change_lines(well, LiveState(ears=Ears.HEARING)) == []
    assert change_lines(LiveState(), LiveState(overflows=2)) == ["sound was lost, 2 times so far"]
