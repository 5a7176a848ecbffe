"""What is learned from work at the bench: which utterances are taken, with which words, and which never."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from handsfree.adapt import work
from handsfree.adapt.learning import known_phrase
from handsfree.dialogue.questions import (
    ABOUT_AGAIN,
    ABOUT_COMMAND,
    ABOUT_CORRECTION,
    ABOUT_FINISH,
    ABOUT_READING,
)
from handsfree.journal import Journal, Kind
from handsfree.planfile import parse_plan
from handsfree.session import Account, Became, ChangedPlan, account, change_of_plan, read, spoken
from handsfree.session.spoken import _ASKED_ABOUT
from handsfree.understand import command_json, listen_for
from tests.dialogue.talk import PLAN_TEXT, plan_of_three_checks
from tests.test_bench_sounds import Room

pytestmark = pytest.mark.quick

PLAN = plan_of_three_checks()
LISTENING = {check.name: listen_for(PLAN, check) for check in PLAN.checks}


@contextlib.contextmanager
def room_in(folder: Path, **facts: str) -> Iterator[Room]:
    room = Room(folder, PLAN)
    if facts:
        room.bench.open(**facts)
    yield room
    room.journal.close()


def told(path: Path) -> list[tuple[Became, str | None, int]]:
    """What became of each utterance, its words where they are known, and the number in its sound."""
    found = []
    recorded = read(path)
    for one in spoken(recorded):
        known = known_phrase(one, LISTENING[one.check], PLAN.check(one.check))
        found.append((one.became, None if known is None else " ".join(known[0]), one.event.seq))
    return found


def taken(path: Path) -> list[str]:
    return [words for _, words, _ in told(path) if words is not None]


def became(path: Path) -> list[str]:
    return [each.value for each, _, _ in told(path)]


# --- one by one -----------------------------------------------------------------------------------


def test_a_reading_that_stood_tells_its_words(tmp_path):
    with room_in(tmp_path) as room:
        room.say("fifteen")
        room.say("cylinder two top eighteen and a half")
        assert taken(room.path) == ["fifteen", "cylinder two top eighteen and a half"]


@pytest.mark.parametrize("word", ["disregard", "negative"])
def test_a_reading_that_was_removed_tells_nothing(tmp_path, word):
    with room_in(tmp_path) as room:
        room.say("fifteen", rivals=(("fifty", 7.5),))
        room.say(word)
        assert (became(room.path), taken(room.path)) == (["removed"], [])


def test_a_corrected_reading_tells_its_second_guess_if_that_is_what_the_correction_says(tmp_path):
    with room_in(tmp_path) as room:
        room.say("fifteen", rivals=(("sixteen", 7.5),))
        room.say("correction sixteen")
        assert became(room.path) == ["corrected", "stood"]
        assert taken(room.path) == ["sixteen", "correction sixteen"]


def test_a_keyed_correction_tells_it_too_and_has_no_sound_of_its_own(tmp_path):
    with room_in(tmp_path) as room:
        room.say("fifteen", rivals=(("sixteen", 7.5),))
        room.bench.key("/16")
        assert (became(room.path), taken(room.path)) == (["corrected"], ["sixteen"])


def test_a_correction_to_something_else_tells_nothing_of_the_reading(tmp_path):
    with room_in(tmp_path) as room:
        room.say("fifteen", rivals=(("fifty", 7.5),))
        room.say("correction sixteen")
        assert taken(room.path) == ["correction sixteen"]


def test_a_correction_after_other_work_tells_nothing_of_the_reading(tmp_path):
    """The part may have been filed and measured again meanwhile."""
    with room_in(tmp_path) as room:
        room.say("fifteen", rivals=(("sixteen", 7.5),))
        room.say("twelve turns")
        room.say("correction sixteen")
        assert became(room.path) == ["corrected", "stood"]
        assert taken(room.path) == ["correction sixteen"]


def test_a_correction_that_was_removed_itself_tells_nothing(tmp_path):
    with room_in(tmp_path) as room:
        room.say("fifteen", rivals=(("sixteen", 7.5),))
        room.say("correction sixteen")
        room.say("disregard")
        assert became(room.path) == ["stood", "removed"]
        assert taken(room.path) == ["fifteen"]


@pytest.mark.parametrize(
    ("answer", "words"),
    [("affirm", "sixteen"), ("sixteen", "sixteen"), ("negative", None), ("disregard", None)],
)
def test_an_utterance_that_was_asked_about_tells_what_the_answer_chose(tmp_path, answer, words):
    with room_in(tmp_path) as room:
        (asked,) = room.say("sixteen", fit=-0.8, margin=9.0).events
        assert asked.kind is Kind.ASKED
        room.say(answer)
        first, *others = told(room.path)
        assert first[:2] == (Became.ANSWERED if words else Became.LEFT, words)
        assert [each[1] for each in others if each[1]] == (["sixteen"] if answer == "sixteen" else [])


def test_the_second_guess_is_what_was_said_if_the_answer_chose_it(tmp_path):
    with room_in(tmp_path) as room:
        room.say("sixteen", margin=1.0, rivals=(("fifteen", 1.0),))
        room.say("fifteen")
        assert told(room.path)[0][:2] == (Became.ANSWERED, "fifteen")


def test_a_key_may_answer_the_question(tmp_path):
    with room_in(tmp_path) as room:
        room.say("sixteen", fit=-0.8)
        room.bench.key("+")
        assert told(room.path) == [(Became.ANSWERED, "sixteen", 2)]


def test_an_answered_question_whose_reading_did_not_stand_tells_nothing(tmp_path):
    with room_in(tmp_path) as room:
        room.say("sixteen", fit=-0.8)
        room.say("affirm")
        room.say("disregard")
        assert (became(room.path), taken(room.path)) == (["left", "removed"], [])


def test_another_reading_than_the_answer_tells_nothing_of_what_was_asked(tmp_path):
    with room_in(tmp_path) as room:
        room.say("sixteen", fit=-0.8)
        room.say("cylinder two second sixteen")
        assert told(room.path)[0][1] is None


def test_keyed_readings_are_never_taken(tmp_path):
    with room_in(tmp_path) as room:
        room.bench.key("16")
        assert told(room.path) == []


def test_a_reading_that_was_judged_anew_under_a_changed_plan_was_let_stand(tmp_path):
    with room_in(tmp_path) as room:
        room.say("nineteen")
        changed = parse_plan(PLAN_TEXT.replace("18 thou", "21 thou", 1))
        from handsfree.bench import Bench

        assert change_of_plan(changed, room.journal.events()) is not None
        Bench(changed, room.journal).open(ChangedPlan.JUDGE)
        recorded = read(room.path)
        assert [event.kind for event in recorded.events].count(Kind.CORRECTION) == 1
        assert [one.became for one in spoken(recorded)] == [Became.STOOD]


def test_two_leaves_and_a_feel_are_told_too(tmp_path):
    with room_in(tmp_path) as room:
        room.say("go eighteen no go nineteen")
        room.say("no go seventeen")
        assert taken(room.path) == ["go eighteen no go nineteen", "no go seventeen"]


def test_questions_that_are_about_what_was_heard_are_the_dialogues_own():
    others = {ABOUT_FINISH, ABOUT_CORRECTION}  # whether to finish, and what the correction is
    assert {ABOUT_READING, ABOUT_AGAIN, ABOUT_COMMAND} == _ASKED_ABOUT
    assert not others & _ASKED_ABOUT


def test_the_newest_of_each_person_are_offered_each_sound_once_and_deleted_ones_are_passed_over(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(work, "NEWEST", 2)
    with room_in(tmp_path, who="A. Fitter") as room:
        for words in ("fifteen", "sixteen", "seventeen"):
            room.say(words)
        room.bench.open(who="B. Turner")
        room.say("eighteen")
        room.say("affirm")
    offered = work.offered_by_journals([room.path, room.path])
    assert [one.voice for one in offered] == ["A. Fitter", "A. Fitter", "B. Turner"]
    loaded = [one.load() for one in offered]
    assert [one.text for one in loaded] == ["sixteen", "seventeen", "eighteen"]
    assert len({id(one.listening) for one in loaded}) == 1
    for name in room.kept:
        (tmp_path / "j.sounds" / name).unlink()
    assert [one.load() for one in offered] == [None] * 3


# --- counts ---------------------------------------------------------------------------------------


def test_utterances_without_events_are_counted_with_the_next_event(tmp_path):
    with room_in(tmp_path) as room:
        room.say("fifteen", fit=-9.0)
        room.say("fifteen", fit=-9.0)
        room.say("sixteen", fit=-0.8)  # asked
        room.say("cylinder two top sixteen", margin=0.5, rivals=(("fifteen", 0.5),))
        room.say("affirm")
        room.say("what's left")
        (event, *_) = room.say("seventeen").events
        assert "unlogged" not in event.draft.data
        assert account(spoken(read(room.path))) == {"": Account(stood=2, asked=2, ignored=2)}


def test_an_odd_count_in_a_journal_counts_nothing(tmp_path):
    from handsfree.journal import Draft
    from handsfree.session import opening

    with Journal.open(tmp_path / "odd") as journal:
        journal.append(opening(PLAN))
        for odd in ("x", {"ignored": -1, "asked": True}, {"ignored": 10**30}, {"ignored": "3"}, [1]):
            journal.append(Draft(Kind.STAND_BY, data={"unlogged": odd}))
    assert account(spoken(read(tmp_path / "odd"))) == {}


def test_each_person_has_an_account_from_the_event_that_names_them(tmp_path):
    with room_in(tmp_path, who="A. Fitter") as room:
        room.say("fifteen")
        room.bench.open(who="B. Turner")
        room.say("sixteen")
        room.say("correction seventeen")
        found = account(spoken(read(room.path)), lambda one: one.who)
        assert found == {"A. Fitter": Account(stood=1), "B. Turner": Account(stood=1, corrected=1)}


# --- whatever happens -----------------------------------------------------------------------------

SIZES = ("fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty")
SIZE = st.sampled_from(SIZES)
KEYS = dict(zip(SIZES, ("15", "16", "17", "18", "19", "20"), strict=True))
MENDS = ("correction", "disregard", "keys", "negative")
STEP = st.one_of(
    st.tuples(st.just("right"), SIZE),
    st.tuples(st.just("misheard"), SIZE, SIZE, st.booleans(), st.sampled_from(MENDS)),
    st.tuples(st.just("unsure"), SIZE, SIZE, st.sampled_from(("say", "keys", "negative", "disregard"))),
    st.tuples(st.just("keyed"), SIZE),
    st.tuples(st.just("talk"), SIZE),
    st.tuples(st.just("go"), st.sampled_from(("cylinder one top", "cylinder two second"))),
)


class Person:
    """Somebody who notices every slip and mends it at once."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.truth: dict[str, str] = {}
        self.struck: set[str] = set()

    def say(self, heard: str, truth: str, **more: object) -> str | None:
        """Say `truth`; the ears make `heard` of it. Return the name of the sound, if it was kept."""
        exchange = self.room.say(heard, **more)
        names = {event.draft.heard.sound for event in exchange.events if event.draft.heard}
        sound = next(iter(names - {None}), None)
        if sound is not None:
            self.truth[sound] = truth
        return sound

    def does(self, step: tuple) -> None:
        act: dict[str, Callable[..., None]] = {
            "right": lambda size: self.say(size, size) and None,
            "misheard": self.misheard,
            "unsure": self.unsure,
            "keyed": lambda size: self.room.bench.key(KEYS[size]) and None,
            "talk": lambda size: self.say(size, "talk", fit=-9.0) and None,
            "go": lambda place: self.say(place, place) and None,
        }
        act[step[0]](*step[1:])

    def misheard(self, truth: str, heard: str, second: bool, mend: str) -> None:
        rival = truth if second else SIZES[(SIZES.index(truth) + 1) % len(SIZES)]
        sound = self.say(heard, truth, rivals=((rival, 8.0),))
        if heard == truth:
            return
        if mend == "correction":
            self.say(f"correction {truth}", f"correction {truth}")
        elif mend == "keys":
            self.room.bench.key(f"/{KEYS[truth]}")
        else:
            self.say(mend, mend)
            self.struck.add(sound or "")

    def unsure(self, truth: str, heard: str, then: str) -> None:
        rivals = () if heard == truth else ((truth, 1.0),)
        sound = self.say(heard, truth, fit=-0.8, margin=1.0, rivals=rivals)
        if then == "say":
            self.say(truth, truth)
        elif then == "keys":
            self.room.bench.key(KEYS[truth])
        else:
            self.say(then, then)
            self.struck.add(sound or "")


@settings(max_examples=20, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(steps=st.lists(STEP, min_size=1, max_size=12))
def test_where_every_slip_is_mended_each_utterance_is_taken_by_what_was_said_or_not_at_all(
    tmp_path_factory, steps
):
    with room_in(tmp_path_factory.mktemp("work")) as room:
        person = Person(room)
        for step in steps:
            person.does(step)
        recorded = read(room.path)
    said = spoken(recorded)
    for one in said:
        known = known_phrase(one, LISTENING[one.check], PLAN.check(one.check))
        assert one.event.draft.heard is None or one.event.draft.heard.source == "voice" or one.sound is None
        if known is not None:
            assert one.sound is not None
            assert " ".join(known[0]) == person.truth[one.sound], command_json(known[1])
            assert one.sound not in person.struck
    plain = [step for step in steps if step[0] == "right"]
    stood = [one for one in said if one.became is Became.STOOD]
    assert len(stood) >= len(plain)  # nothing that stood is lost
