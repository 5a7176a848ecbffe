"""The loop: what is heard or keyed becomes events on disk first and one reply after."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from handsfree.bench import Bench
from handsfree.ears import Ear
from handsfree.errors import JournalError
from handsfree.hear import Hearing, Utterance, never
from handsfree.hear.heard import Alternative
from handsfree.journal import Journal, Kind
from handsfree.length import length
from handsfree.planfile import parse_plan
from handsfree.speak import Tone, Verbosity, Wording
from handsfree.understand import Outcome, Reading, listen_for
from tests.dialogue.talk import PLAN_TEXT, Clock, listening_for, plan_of_three_checks

pytestmark = pytest.mark.quick

SOUND = Utterance(np.zeros(16_000, np.int16), 1.5, 2.5)


@dataclass
class Parrot:
    """A recogniser that hears what it is told to, and remembers what it was asked about."""

    words: str = ""
    fit: float = -0.1
    margin: float = 9.0
    rivals: tuple[tuple[str, float], ...] = ()
    name: str = "parrot"
    heard: list[Utterance] = field(default_factory=list)

    def hear(self, utterance: Utterance, cancelled: Callable[[], bool] = never) -> Hearing:  # noqa: ARG002 - it answers at once
        self.heard.append(utterance)
        words = tuple(self.words.split())
        others = tuple(Alternative(tuple(text.split()), -behind) for text, behind in self.rivals)
        return Hearing(
            words,
            utterance.start_s,
            utterance.end_s,
            self.name,
            fit=self.fit,
            margin=self.margin,
            runner_up=others[0].words if others else None,
            alternatives=(Alternative(words, 0.0), *others) if words else (),
        )


@dataclass
class FakeEars:
    plan: object
    parrot: Parrot
    asked_for: list[str] = field(default_factory=list)

    def ear(self, check: str) -> Ear:
        self.asked_for.append(check)
        return Ear(listening_for(self.plan, check), self.parrot)


@pytest.fixture(scope="module")
def plan():
    return plan_of_three_checks()


@pytest.fixture
def parrot():
    return Parrot()


@pytest.fixture
def bench(plan, parrot):
    ears = FakeEars(plan, parrot)
    bench = Bench(plan, Journal.in_memory(clock=Clock()), ears)
    bench.open(who="A. Fitter")
    return bench


@pytest.fixture(autouse=True)
def state_folder(tmp_path_factory, monkeypatch) -> Path:
    folder = tmp_path_factory.mktemp("state")
    monkeypatch.setenv("XDG_STATE_HOME", str(folder))
    return folder


def say(bench, parrot, words, **more):
    for name, value in {"fit": -0.1, "margin": 9.0, "rivals": (), **more}.items():
        setattr(parrot, name, value)
    parrot.words = words
    return bench.hear(SOUND)


def test_a_new_session_greets_with_the_first_position_and_keeps_what_belongs_on_the_sheet(plan):
    journal = Journal.in_memory(clock=Clock())
    exchange = Bench(plan, journal).open(who="A. Fitter", instrument="leaves no. 4")
    assert exchange.reply.text.startswith("Ready. Any key or word skips the cautions. Wear eye protection; ")
    assert exchange.reply.text.endswith(" First, one top.")
    (event,) = journal.events()
    assert event.kind is Kind.OPENED
    assert event.draft.data["who"] == "A. Fitter"
    assert event.draft.data["instrument"] == "leaves no. 4"
    assert event.draft.data["plan_digest"] == plan.digest


def test_a_sure_reading_is_logged_with_how_it_was_heard(bench, parrot):
    exchange = bench.session and say(bench, parrot, "fifteen", rivals=(("fifty", 7.5),))
    assert exchange.source == "voice"
    assert exchange.decision.outcome is Outcome.ACCEPT
    assert exchange.commands[0] == Reading(exchange.events[0].draft.value)
    heard = exchange.events[0].draft.heard
    assert (heard.source, heard.words, heard.recogniser) == ("voice", "fifteen", "parrot")
    assert (heard.fit, heard.margin, heard.runner_up) == (-0.1, 9.0, "fifty")


def test_where_the_sound_came_from_stands_in_the_event(bench, parrot):
    parrot.words = "fifteen"
    exchange = bench.hear(SOUND, origin="a.wav")
    heard = exchange.events[0].draft.heard
    assert (heard.origin, heard.sound) == ("a.wav", None)
    assert parrot.heard == [SOUND]


def test_the_ear_of_the_check_in_hand_listens(bench, parrot):
    say(bench, parrot, "check washed")
    say(bench, parrot, "done")
    assert list(dict.fromkeys(bench._ears.asked_for)) == ["ring gaps", "washed"]
    assert bench._ears.asked_for[-1] == "washed"


def test_the_window_of_the_position_in_hand_decides_an_unclear_number():
    text = PLAN_TEXT.replace(
        """aim = "18 thou"
plus = "1.5 thou"
""",
        """aim = "18 thou"
plus = "1.5 thou"

[[check.target]]
cylinder = 2
aim = "170 thou"
plus = "20 thou"
""",
    )
    plan, parrot = parse_plan(text), Parrot()
    bench = Bench(plan, Journal.in_memory(clock=Clock()), FakeEars(plan, parrot))
    bench.open()
    assert str(say(bench, parrot, "one eight five").events[0].draft.value) == "18.5 thou"
    say(bench, parrot, "cylinder two top")
    assert str(say(bench, parrot, "one eight five").events[0].draft.value) == "185 thou"


@pytest.mark.parametrize(
    ("fit", "margin", "outcome", "kinds"),
    [
        (-0.1, 9.0, Outcome.ACCEPT, [Kind.READING]),
        (-0.1, 0.1, Outcome.ASK, [Kind.ASKED]),
        (-1.5, 9.0, Outcome.ASK, [Kind.ASKED]),
        (-5.0, 9.0, Outcome.IGNORE, []),
    ],
)
def test_fit_and_margin_decide_what_becomes_of_it(bench, parrot, fit, margin, outcome, kinds):
    exchange = say(bench, parrot, "fifteen", fit=fit, margin=margin)
    assert exchange.decision.outcome is outcome
    assert [event.kind for event in exchange.events] == kinds


def test_chatter_is_silent_and_leaves_no_trace(bench, parrot):
    before = bench.session
    exchange = say(bench, parrot, "fifteen", fit=-6.0)
    assert exchange.reply.text == exchange.reply.aloud == ""
    assert exchange.commands == ()
    assert bench.session == before


def test_nothing_heard_is_silent(bench, parrot):
    exchange = say(bench, parrot, "")
    assert exchange.decision.outcome is Outcome.IGNORE
    assert exchange.reply.text == ""


def test_rivals_close_behind_are_named(bench, parrot):
    exchange = say(bench, parrot, "thirteen", margin=1.0, rivals=(("thirty", 1.0), ("forty", 9.0)))
    assert exchange.reply.text == "Thirteen, or thirty?"


def test_keys_and_words_come_to_the_same_events(bench, parrot, plan):
    other = Bench(plan, Journal.in_memory(clock=Clock()))
    other.open(who="A. Fitter")
    said = [
        "cylinder two top fifteen",
        "correction sixteen",
        "no go seventeen",
        "ten turns",
        "next",
        "disregard",
    ]
    keyed = ["2*1*15", "/16", "17-", "10/", "*", "/"]
    for words, keys in zip(said, keyed, strict=True):
        spoken, typed = say(bench, parrot, words), other.key(keys)
        assert typed.reply == spoken.reply
        assert typed.commands == spoken.commands
        assert [e.kind for e in typed.events] == [e.kind for e in spoken.events]
    shown = [[(e.position, e.value, e.bound, e.state) for e in b.session.log()] for b in (bench, other)]
    assert shown[0] == shown[1]


@pytest.mark.parametrize("keys", ["x", "18.", "9*1*18", "3*", ".*9"])
def test_bad_keys_are_shown_in_full_spoken_in_short_and_change_nothing(bench, keys):
    before = bench.session
    exchange = bench.key(keys)
    assert exchange.reply.text.startswith(f'keys "{keys}"') or keys == "3*"
    if keys == "3*":  # there are two cylinders
        assert "there is no cylinder 3" in exchange.reply.text
    assert exchange.reply.aloud == "Not a key entry. Key it again."
    assert exchange.reply.tone is Tone.AGAIN
    assert exchange.events == exchange.commands == ()
    assert bench.session == before


def test_say_again_repeats_the_last_answer_and_not_a_silence(bench, parrot):
    answer = say(bench, parrot, "fifteen").reply
    say(bench, parrot, "roger")
    say(bench, parrot, "fifteen", fit=-9.0)
    assert say(bench, parrot, "say again").reply == answer
    assert say(bench, parrot, "say again").reply == answer


def test_without_ears_sound_is_a_fault_of_the_program(plan):
    bench = Bench(plan, Journal.in_memory(clock=Clock()))
    bench.open()
    with pytest.raises(RuntimeError, match="without ears"):
        bench.hear(SOUND)


def test_another_wording_is_used(plan):
    bench = Bench(plan, Journal.in_memory(clock=Clock()), wording=Wording(Verbosity.TERSE))
    bench.open()
    assert bench.key("15").reply.text == "One top, fifteen, file three."


def test_an_event_is_on_disk_before_its_reply_is_given_back(plan, tmp_path):
    """Seen through another connection, as another program or a next start would see it."""
    path = tmp_path / "bench.journal"
    with Journal.open(path, clock=Clock()) as journal:
        bench = Bench(plan, journal)
        bench.open()
        for count, keys in enumerate(["15", "16", "/17", "/"], start=2):
            before = bench.session.count
            exchange = bench.key(keys)
            with sqlite3.connect(path) as other:
                (rows,) = other.execute("SELECT count(*) FROM event").fetchone()
            other.close()
            assert exchange.events
            assert rows == bench.session.count > before >= count - 1


def test_going_on_says_how_far_the_work_was_and_where_it_is(plan, tmp_path):
    path = tmp_path / "bench.journal"
    with Journal.open(path, clock=Clock()) as journal:
        first = Bench(plan, journal)
        first.open()
        first.key("18")
        first.key("15")
        before = first.session
    with Journal.open(path, clock=Clock()) as journal:
        second = Bench(plan, journal)
        exchange = second.open()
        assert exchange.reply.text == "Resumed. One of four done. Next, one second. Eye protection on."
        assert [event.kind for event in exchange.events] == [Kind.RESUMED]
        assert second.session.log() == before.log()
        assert second.key("").reply == exchange.reply
        assert second.key("-").reply.text == "Nothing was asked."
        assert second.session.log() == before.log()


def test_going_on_when_all_is_done_says_so(plan, tmp_path):
    path = tmp_path / "bench.journal"
    with Journal.open(path, clock=Clock()) as journal:
        first = Bench(plan, journal)
        first.open()
        for _ in range(4):
            first.key("18")
    with Journal.open(path, clock=Clock()) as journal:
        assert Bench(plan, journal).open().reply.text == "Resumed. All four are done."


def test_stand_by_and_an_open_question_end_with_the_session(plan, tmp_path):
    path = tmp_path / "bench.journal"
    for keys in ("--", "90"):
        with Journal.open(path, clock=Clock()) as journal:
            bench = Bench(plan, journal)
            bench.open()
            assert bench.key("+").reply.text == "Nothing was asked."
            bench.key(keys)
    with Journal.open(path, clock=Clock()) as journal:
        bench = Bench(plan, journal)
        bench.open()
        assert bench.key("+").events == ()
        assert bench.key("16").events[0].kind is Kind.READING


def test_a_journal_of_another_plan_is_refused(plan, tmp_path):
    path = tmp_path / "bench.journal"
    with Journal.open(path, clock=Clock()) as journal:
        Bench(plan, journal).open()
    other = parse_plan(PLAN_TEXT.replace("Two by two", "Another"))
    with Journal.open(path, clock=Clock()) as journal:
        with pytest.raises(JournalError, match='The journal belongs to the plan "Two by two"'):
            Bench(other, journal).open()
        assert len(journal.events()) == 1


def test_what_cannot_be_written_is_kept_and_never_called_logged(plan, tmp_path, parrot):
    path = tmp_path / "bench.journal"
    away = tmp_path / "away"
    journal = Journal.open(path, clock=Clock())
    bench = Bench(plan, journal, FakeEars(plan, parrot))
    bench.open()
    path.rename(away)
    exchange = say(bench, parrot, "fifteen")
    assert exchange.reply.text.startswith("One top, fifteen. File three. The journal ")
    assert "was moved or deleted" in exchange.reply.text
    assert "Not logged." in exchange.reply.aloud
    assert exchange.reply.tone is Tone.AGAIN
    assert [entry.value.value for entry in bench.session.log()] == [15]
    assert say(bench, parrot, "hello", fit=-9.0).reply.text == ""  # talk is not answered all the same
    away.rename(path)
    assert "moved" not in say(bench, parrot, "sixteen").reply.text
    assert len(journal.events()) == 3
    journal.close()


def test_a_question_that_could_not_be_written_can_still_be_answered(plan, tmp_path):
    path = tmp_path / "bench.journal"
    away = tmp_path / "away"
    journal = Journal.open(path, clock=Clock())
    bench = Bench(plan, journal)
    bench.open()
    path.rename(away)
    exchange = bench.key("90")
    assert exchange.reply.expects == ("yes", "no")
    bench.key("+")
    assert [str(entry.value) for entry in bench.session.log()] == ["90 thou"]
    away.rename(path)
    assert journal.retry()
    journal.close()


def test_listening_is_made_for_each_check_of_a_plan(plan):
    """Guards the fake used here: it must be what the real ears make."""
    real = listen_for(plan, plan.checks[0])
    assert real.automaton == listening_for(plan, plan.checks[0].name).automaton


METRIC = """
format = 1
name = "metric"
[engine]
name = "invented"
[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "mm"
[check.axes]
cylinder = 2
ring = ["top"]
[[check.target]]
aim = "0.40 mm"
plus = "0.05 mm"
"""


def test_keyed_inches_are_thou_as_they_are_when_said(bench):
    assert bench.key(".016").events[0].draft.value == length("16")
    assert bench.key(".5").reply.text.endswith("Yes or no.")  # neither half a thou nor half an inch


def test_keyed_hundredths_are_asked_about_as_they_are_when_said():
    bench = Bench(parse_plan(METRIC, "the test's plan"), Journal.in_memory())
    bench.open()
    asked = bench.key("35")
    assert asked.reply.text == "One top, zero point three five? Yes or no."
    assert [event.kind for event in asked.events] == [Kind.ASKED]
    logged = bench.key("+")  # affirm
    assert bench.session.log()[-1].value == length("0.35", "mm"), logged
