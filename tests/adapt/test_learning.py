"""Learning from recordings: what is kept helps on recordings that were held back, or is stricter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from handsfree.adapt import Adaptation, OwnRecording, learn
from handsfree.adapt.adaptation import MOST_PACE
from handsfree.hear import Hearing
from handsfree.planfile import load_plan
from handsfree.understand import Thresholds, listen_for, load_spellings
from tests.support.program import PLAN

pytestmark = pytest.mark.quick

LISTENING = listen_for(load_plan(PLAN), load_plan(PLAN).checks[0])
WORDS, PHRASES = LISTENING.automaton.words, LISTENING.automaton.phrases


@dataclass(frozen=True)
class Spoken:
    """What is written freely, and what comes of hearing it usually, with its form, and at its own pace."""

    free: str
    usual: str = "right"
    with_form: str | None = None
    with_pace: str | None = None
    margin: float = 9.0
    fit: float = -0.1
    pace: float = 0.0
    right_words: bool = True


@dataclass
class Parrot:
    """A decoder that gives what was written down for it."""

    spoken: Mapping[str, Spoken]
    helps: tuple[str, ...] = ("tau",)
    heard: list[tuple[str, Adaptation]] = field(default_factory=list)

    def hear(self, sample: OwnRecording, adaptation: Adaptation) -> tuple[Hearing, ...]:
        self.heard.append((sample.key, adaptation))
        one = self.spoken[sample.key]
        forms = {form for written in adaptation.forms.values() for form in written}
        result = one.usual
        if one.with_form and any(form in one.free for form in forms & set(self.helps)):
            result = one.with_form
        if one.with_pace and adaptation.pace:
            result = one.with_pace
        words = sample.said if one.right_words else ("nine",)
        return (
            Hearing(words, 0, 1, "parrot", fit=one.fit, margin=one.margin, free=one.free, pace=one.pace,
                    extra={"result": result}),
        )  # fmt: skip

    def result(
        self, sample: OwnRecording, hearings: tuple[Hearing, ...], thresholds: Thresholds
    ) -> tuple[str, bool]:
        assert sample.key in self.spoken
        one = hearings[0]
        result = str(one.extra["result"])
        assert one.fit is not None
        assert one.margin is not None
        if result in ("right", "wrong") and (
            one.fit < thresholds.sure_fit or one.margin < thresholds.sure_margin
        ):
            result = "asked"
        return result, result == "right"


def samples_of(
    spoken: Mapping[str, Spoken], said: str = "cylinder three top eighteen thou"
) -> list[OwnRecording]:
    return [OwnRecording(key, tuple(said.split()), WORDS, PHRASES) for key in spoken]


def numbered(*groups: tuple[int, Spoken]) -> dict[str, Spoken]:
    spoken = [one for count, each in groups for one in [each] * count]
    return {f"{number:02}": one for number, one in enumerate(spoken)}


KNOWN = Spoken("Cylinder 3 top, 18 thou.")
TAU = Spoken("Cylinder 3 top, 18 tau.", "asked", "right")


def test_a_form_that_helps_recordings_held_back_is_kept() -> None:
    spoken = numbered((12, KNOWN), (6, TAU))
    learned = learn(samples_of(spoken), Parrot(spoken), load_spellings())
    assert learned.adaptation.forms == {("thou",): ("tau",)}
    assert learned.before == {"right": 12, "wrong": 0, "asked": 6, "ignored": 0}
    assert learned.after == {"right": 18, "wrong": 0, "asked": 0, "ignored": 0}
    assert not learned.refused


def test_a_recording_is_never_judged_with_a_form_that_only_it_taught() -> None:
    spoken = numbered((12, KNOWN), (1, TAU))
    parrot = Parrot(spoken)
    learned = learn(samples_of(spoken), parrot, load_spellings())
    assert learned.adaptation.changes_nothing
    assert learned.refused == {(("thou",), "tau"): "it came up only once"}
    assert all(adaptation.changes_nothing for _, adaptation in parrot.heard)


def test_a_form_that_does_not_help_is_not_kept() -> None:
    spoken = numbered((12, KNOWN), (6, Spoken("Cylinder 3 top, 18 tau.", "asked", "asked")))
    learned = learn(samples_of(spoken), Parrot(spoken), load_spellings())
    assert learned.adaptation.changes_nothing
    assert learned.refused == {(("thou",), "tau"): "it didn't help on recordings held back"}


def test_a_form_that_makes_one_value_wrong_is_not_kept_though_it_helps_many() -> None:
    harmed = Spoken("Cylinder 3 top, 18 tau.", "right", "wrong")
    spoken = numbered((12, KNOWN), (20, TAU), (1, harmed))
    learned = learn(samples_of(spoken), Parrot(spoken), load_spellings())
    assert learned.adaptation.forms == {}
    assert learned.after == learned.before


def test_of_two_forms_only_the_one_that_helps_is_kept() -> None:
    other = Spoken("Cylinder 3 top, 18 dow.", "asked", "asked")
    spoken = numbered((8, KNOWN), (5, TAU), (5, other))
    learned = learn(samples_of(spoken), Parrot(spoken), load_spellings())
    assert learned.adaptation.forms == {("thou",): ("tau",)}
    assert (("thou",), "dow") in learned.refused


def test_a_form_that_collides_is_never_even_tried() -> None:
    spoken = numbered((8, KNOWN), (8, Spoken("Cylinder 3 top, 80 thou.", "asked", "right")),
                      (8, Spoken("Cylinder 3 top, eighty two thou.", "asked", "right")))  # fmt: skip
    parrot = Parrot(spoken, helps=("80", "eighty two", "eighty"))
    learned = learn(samples_of(spoken), parrot, load_spellings())
    assert learned.adaptation.changes_nothing
    assert all(adaptation.changes_nothing for _, adaptation in parrot.heard)


def test_one_writing_of_two_words_is_a_form_of_neither() -> None:
    spoken = numbered((8, KNOWN), (6, Spoken("Cylinder 3 brawn, 18 thou.", "asked", "right")))
    more = {f"x{key}": Spoken("Cylinder 3 top, 18 brawn.", "asked", "right") for key in spoken}
    learned = learn(samples_of({**spoken, **more}), Parrot({**spoken, **more}, ("brawn",)), load_spellings())
    assert learned.adaptation.forms == {}
    assert set(learned.refused.values()) == {"several words are written so"}


def test_a_pace_that_helps_is_kept_and_never_beyond_a_third() -> None:
    slow = Spoken("Cylinder 3 top, 18 thou.", "asked", with_pace="right", pace=0.9)
    spoken = numbered((20, slow))
    learned = learn(samples_of(spoken), Parrot(spoken), load_spellings())
    assert learned.adaptation.pace == MOST_PACE
    assert learned.after["right"] == 20


def test_a_pace_that_does_not_help_is_left_as_usual() -> None:
    spoken = numbered((20, Spoken("Cylinder 3 top, 18 thou.", pace=0.4)))
    assert learn(samples_of(spoken), Parrot(spoken), load_spellings()).adaptation.pace == 0


def test_a_wrong_value_makes_it_stricter_and_is_named_when_that_is_not_enough() -> None:
    close = Spoken("Cylinder 3 top, 18 thou.", "wrong", margin=3.0, right_words=False)
    spoken = numbered((18, KNOWN), (8, close))
    learned = learn(samples_of(spoken), Parrot(spoken), load_spellings())
    assert learned.adaptation.sure_margin == 3.01
    assert learned.after == {"right": 18, "wrong": 0, "asked": 8, "ignored": 0}
    assert learned.unlike == ()
    sure = numbered((18, KNOWN), (2, Spoken("Cylinder 3 top, 18 thou.", "wrong", right_words=False)))
    learned = learn(samples_of(sure), Parrot(sure), load_spellings())
    assert learned.adaptation.changes_nothing
    assert learned.unlike == ("18", "19")


def test_talk_that_was_left_alone_counts_as_right() -> None:
    spoken = numbered((12, KNOWN))
    talk = {"talk": Spoken("Put the kettle on.", "ignored", right_words=False)}
    samples = [*samples_of(spoken), OwnRecording("talk", (), WORDS, PHRASES)]
    learned = learn(samples, Parrot({**spoken, **talk}), load_spellings())
    assert learned.before == {"right": 13, "wrong": 0, "asked": 0, "ignored": 0}


def test_the_same_recordings_teach_the_same() -> None:
    spoken = numbered((12, KNOWN), (6, TAU))
    first, second = (learn(samples_of(spoken), Parrot(spoken), load_spellings()) for _ in range(2))
    assert first == second


def test_of_work_nothing_is_learned_that_asks_less_often() -> None:
    spoken = numbered((500, Spoken("Cylinder 3 top, 18 thou.", "right", margin=2.2)))
    samples = samples_of(spoken)
    assert learn(samples, Parrot(spoken), load_spellings()).adaptation.sure_margin < Thresholds().sure_margin
    assert learn(samples, Parrot(spoken), load_spellings(), looser=False).adaptation.changes_nothing
