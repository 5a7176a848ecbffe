"""A first plan from five answers."""

from datetime import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from handsfree.errors import PlanError
from handsfree.hear import Hearing, Utterance, always
from handsfree.hear.ears import Ear
from handsfree.live import LiveState
from handsfree.live.first_plan import Interview, answers_of, plan_name, plan_text, questions, write_plan
from handsfree.plan import load_plan
from handsfree.record import Journal
from handsfree.show.view import bench_view
from handsfree.speak import Tone
from handsfree.understand import listen_for

pytestmark = pytest.mark.quick


def interview():
    bench = Interview(questions(), Journal.in_memory(), cautions=False)
    assert bench.open().reply.text == "How many cylinders?"
    return bench


def answered(*keys):
    bench = interview()
    for key in keys:
        bench.key(key)
    return bench.session


class Parrot:
    """Hears what it was told to hear."""

    name = "parrot"

    def hear(self, utterance, wanted=always):  # noqa: ARG002 - it answers at once
        return Hearing(tuple(self.words.split()), 0.0, 1.0, self.name, fit=-0.1, margin=9.0)


class Voice:
    """An interview that is spoken to."""

    def __init__(self):
        plan, self.parrot = questions(), Parrot()
        ear = Ear(listen_for(plan, plan.checks[0]), self.parrot)
        self.bench = Interview(plan, Journal.in_memory(), SimpleNamespace(ear=lambda _: ear), cautions=False)
        self.bench.open()

    def say(self, words):
        self.parrot.words = words
        return self.bench.hear(Utterance(np.zeros(1600, np.int16), 0.0, 0.1)).reply.text


def test_each_answer_is_said_back_in_its_own_words_and_the_next_question_put():
    bench = interview()
    said = [bench.key(key).reply.text for key in ("8", "2", "18", "20", "1.5")]
    assert said == [
        "Eight cylinders. How many rings do you file on each piston, one or two?",
        "Two rings to a piston. What gap is wanted for the top ring, in thou?",
        "Top ring, eighteen. And for the second ring?",
        "Second ring, twenty. How much more may a gap have?",
        "Eight cylinders. Two rings to a piston. Top ring, eighteen. Second ring, twenty. "
        "One and a half more at most. Make the plan? Yes or no.",
    ]
    assert bench.key("+").reply.text == "The plan is made."
    assert bench.session.finished


def test_a_number_may_be_said_with_what_it_counts():
    voice = Voice()
    assert voice.say("eight cylinders").startswith("Eight cylinders. How many rings")
    assert voice.say("two rings").startswith("Two rings to a piston.")
    assert voice.say("six cylinders").startswith("Six cylinders. What gap is wanted for the top ring")


def test_an_answer_that_cannot_be_is_refused_at_once_and_asked_again():
    bench = interview()
    asked = bench.key("7.5").reply
    assert asked.text == (
        "Seven and a half is no number of cylinders from one to sixteen. How many cylinders?"
    )
    assert asked.tone is Tone.AGAIN
    assert bench.key("8").reply.text.startswith("Eight cylinders.")
    assert bench.key("3").reply.text.startswith("It can be one ring or two.")


def test_one_answer_is_repaired_and_the_others_stay():
    bench = interview()
    for key in ("8", "2", "18", "20"):
        bench.key(key)
    assert bench.key("1*").reply.text == "How many cylinders?"
    assert bench.key("6").reply.text == "Six cylinders. How much more may a gap have?"
    assert bench.key("/").reply.text == "How many cylinders?"  # what was answered last
    assert bench.key("/4").reply.text.startswith("Four cylinders. How much more")
    bench.key("1.5")
    assert [str(value) for value in answers_of(bench.session).values()] == ["4", "2", "18", "20", "1.5"]


def test_anything_else_is_answered_with_help_and_the_question():
    text = Voice().say("what's left")
    assert text.startswith("Say a number. To change an answer, name it: cylinders,")
    assert text.endswith("How many cylinders?")


def test_no_target_is_shown_and_the_question_fills_the_display():
    view = bench_view(interview().session, LiveState(), datetime(2026, 11, 30, 9, 0))
    assert (view.target, view.amount, view.question) == ("", "", ("how many", "cylinders"))


def test_five_answers_make_a_plan_that_loads_and_is_named_after_the_engine(tmp_path):
    session = answered("8", "2", "18", "20", "1.5")
    path = write_plan(plan_text(session), tmp_path, plan_name(session))
    assert path.name == "eight-cylinder-engine.toml"
    check = load_plan(path).checks[0]
    assert len(check.positions) == 16
    targets = {position.get("ring"): str(check.target(position)) for position in check.positions}
    assert targets == {
        "top": "18 thou (from 18 thou to 19.5 thou)",
        "second": "20 thou (from 20 thou to 21.5 thou)",
    }


def test_one_ring_needs_no_second_target(tmp_path):
    path = write_plan(plan_text(answered("4", "1", "17.5", "2")), tmp_path)
    check = load_plan(path).checks[0]
    assert [position.get("ring") for position in check.positions] == ["top"] * 4


def test_answers_that_make_no_plan_are_one_sentence():
    with pytest.raises(PlanError, match='"second target" has no answer'):
        plan_text(answered("8", "2", "18"))


def test_plan_never_overwrites_another(tmp_path):
    names = [write_plan("x", tmp_path).name for _ in range(3)]
    assert names == ["new-plan.toml", "new-plan-2.toml", "new-plan-3.toml"]


def test_folder_that_isnt_there_is_one_sentence(tmp_path):
    with pytest.raises(PlanError, match="can't write the plan"):
        write_plan("x", tmp_path / "none")
