"""Real people saying other things: commands of other trades, a novel, a telephone exchange.

Debian's pocketsphinx-testdata (BSD 2-clause) with the grammars that come with it, and
asterisk-core-sounds-en-g722 (CC BY-SA 3.0). Word errors are counted by jiwer.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.ears import Choice, Ear, Recognisers
from handsfree.hear import SAMPLERATE_HZ, PhraseRecogniser, Utterance, utterances
from handsfree.planfile import load_plan
from handsfree.understand import Outcome
from handsfree.understand.grammar import load_grammar
from tests.measure.accuracy import ROOT
from tests.support.human import TESTDATA, Spoken, all_prompts, cards, commands, plain, read_aloud, sentences

DIGITS = """#JSGF V1.0;
grammar digits;
public <digits> = <digit> <digit> <digit> <digit> <digit>;
<digit> = zero | oh | one | two | three | four | five | six | seven | eight | nine;
"""


def whole(spoken: Spoken) -> Utterance:
    return Utterance(spoken.samples, 0.0, len(spoken.samples) / SAMPLERATE_HZ)


def said_to(recogniser: PhraseRecogniser, spoken: Spoken) -> str:
    return " ".join(recogniser.hear(whole(spoken)).words)


@pytest.fixture(scope="module")
def ear() -> Ear:
    plan = load_plan(ROOT / "demo" / "plan.toml")
    return Recognisers(plan, Choice.PHRASE).ear(plan.checks[0].name)


def test_five_people_naming_cards_are_heard_without_a_word_error() -> None:
    from jiwer import wer

    said = cards()
    recogniser = PhraseRecogniser(load_grammar(TESTDATA / "cards" / "cards.gram").compile("cards"))
    assert len(said) == 5
    assert wer([one.text for one in said], [said_to(recogniser, one) for one in said]) == 0


def test_a_turtle_is_moved_by_the_grammar_it_came_with() -> None:
    spoken = commands()[0]
    recogniser = PhraseRecogniser(load_grammar(TESTDATA / "goforward.gram").compile("move2"))
    assert said_to(recogniser, spoken) == spoken.text


def test_a_string_of_digits_is_heard_digit_by_digit(tmp_path: Path) -> None:
    (tmp_path / "digits.gram").write_text(DIGITS, "utf-8")
    spoken = commands()[1]
    recogniser = PhraseRecogniser(load_grammar(tmp_path / "digits.gram").compile("digits"))
    assert said_to(recogniser, spoken) == spoken.text


def acted_on(ear: Ear, spoken: list[Spoken]) -> list[str]:
    """Say what of other people's talk was taken for a command."""
    found = []
    for one in spoken:
        for utterance in utterances(one.samples):
            hearing, decision = ear.hear(utterance)
            if decision.outcome is Outcome.ACCEPT:
                found.append(f"{one.name}: {hearing.free!r} taken for {' '.join(hearing.words)!r}")
    return found


def test_a_novel_being_read_is_no_command(ear: Ear) -> None:
    said = read_aloud()
    assert len(said) == 5
    assert not acted_on(ear, said)


def test_a_telephone_exchange_is_hardly_ever_a_command(ear: Ear) -> None:
    """The aim is never; two of 68 prompts, full of numbers, is where it stood when this was written."""
    said = all_prompts(every=4)
    assert len(said) >= 60
    found = acted_on(ear, said)
    assert len(found) <= 2, found


def test_free_writing_of_a_persons_sentences_has_few_word_errors(ear: Ear) -> None:
    """The packaged model had a word error of about 0.09 on such prompts when it was chosen."""
    from jiwer import wer

    said = sentences(every=4)
    assert len(said) >= 30
    written = [plain(ear.recogniser.hear(whole(one)).free or "") for one in said]
    assert wer([one.text for one in said], written) < 0.15
