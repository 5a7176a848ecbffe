"""A real person saying every number: Debian's asterisk-core-sounds-en-g722 (CC BY-SA 3.0).

Single number words are one recording each; 21 to 99 are joined from two, so that their rhythm is not
quite a person's. The grammar is the program's own.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from numpy.random import default_rng

from handsfree.commands.hearing import hear_one
from handsfree.hear.ears import Choice, Ear, Ears
from handsfree.hear.heard import SAMPLERATE_HZ, Hearing, Utterance
from handsfree.hear.noise import spoil
from handsfree.hear.phrase import PhraseRecogniser
from handsfree.plan import load_plan
from handsfree.understand import (
    Automaton,
    Listening,
    Narrowing,
    Outcome,
    Reading,
    Thresholds,
    load_grammar,
    meanings,
)
from tests.bench.accuracy import ROOT
from tests.human import Spoken, joined_numbers, number_words


def utterance(spoken: Spoken) -> Utterance:
    seconds = len(spoken.samples) / SAMPLERATE_HZ
    return Utterance(spoken.samples, 0.3, seconds - 0.3)


@pytest.fixture(scope="module")
def ear() -> Ear:
    plan = load_plan(ROOT / "demo" / "plan.toml")
    return Ears(plan, Choice.PHRASE).ear(plan.checks[0].name)


@pytest.fixture(scope="module")
def numbers(ear: Ear) -> tuple[Automaton, PhraseRecogniser]:
    """The grammar's rule for whole numbers alone, and the recogniser held to it."""
    context = ear.listening.context
    grammar = load_grammar().narrowed(Narrowing(dict(context.axes), root="cardinal"))
    automaton = grammar.compile("cardinal")
    return automaton, PhraseRecogniser(automaton, lambda words: meanings(words, automaton, context))


def value(words: tuple[str, ...], automaton: Automaton, listening: Listening) -> Decimal | None:
    found = meanings(words, automaton, listening.context)
    command = found[0].commands[0] if found else None
    return command.value.value if isinstance(command, Reading) else None


def hear_numbers(
    numbers: tuple[Automaton, PhraseRecogniser], ear: Ear, spoken: list[tuple[int, Spoken]]
) -> dict[int, tuple[Decimal | None, Hearing]]:
    automaton, recogniser = numbers
    found = {}
    for n, said in spoken:
        hearing = recogniser.hear(utterance(said))
        found[n] = value(hearing.words, automaton, ear.listening), hearing
    return found


def test_every_number_word_of_a_person_is_understood_but_for_one_that_is_asked_about(
    numbers: tuple[Automaton, PhraseRecogniser], ear: Ear
) -> None:
    """Her sixty is nearer to sixteen; what is first choice is logged only with a margin."""
    found = hear_numbers(numbers, ear, number_words())
    assert len(found) == 27
    missed = {n: hearing for n, (got, hearing) in found.items() if got != n}
    assert len(missed) <= 1, missed
    assert all((hearing.margin or 0) < Thresholds().sure_margin for hearing in missed.values()), missed


def test_every_joined_number_of_a_person_is_understood(
    numbers: tuple[Automaton, PhraseRecogniser], ear: Ear
) -> None:
    found = hear_numbers(numbers, ear, joined_numbers())
    assert len(found) == 72
    missed = {n: hearing.words for n, (got, hearing) in found.items() if got != n}
    assert not missed


def logged(ear: Ear, spoken: list[tuple[int, Spoken]]) -> tuple[int, dict[int, tuple[str, ...]]]:
    """Count the numbers logged right, and give those logged wrong, with the whole grammar to choose from."""
    right, wrong = 0, {}
    for n, said in spoken:
        hearing, decision = hear_one(ear, utterance(said))
        if decision.outcome is not Outcome.ACCEPT or decision.meaning is None:
            continue
        (command, *more) = decision.meaning.commands
        if isinstance(command, Reading) and command.value.value == n and not more:
            right += 1
        else:
            wrong[n] = hearing.words
    return right, wrong


def test_no_number_of_a_person_is_logged_wrong(ear: Ear) -> None:
    spoken = number_words() + joined_numbers()
    right, wrong = logged(ear, spoken)
    assert not wrong
    assert right >= 0.92 * len(spoken)


def test_hardly_a_number_of_a_person_is_logged_wrong_in_noise(ear: Ear) -> None:
    """Pink noise at 15 dB. The aim is none wrong; one of fifty is where it stood when this was written."""
    spoken = [
        (n, Spoken(said.name, said.text, spoil(said.samples, "pink", 15, default_rng(n))))
        for n, said in (number_words() + joined_numbers())[::2]
    ]
    right, wrong = logged(ear, spoken)
    assert len(wrong) <= 1, wrong
    assert right >= 0.65 * len(spoken)
