"""Written text read letter by letter: what a recogniser may write, and which words it then heard."""

from __future__ import annotations

import random
import string
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from handsfree.errors import GrammarError
from handsfree.length import length, plain
from handsfree.planfile import parse_plan
from handsfree.show import new_plan, template_list
from handsfree.understand import (
    Bracket,
    Letters,
    Meaning,
    Reading,
    Spellings,
    listen_for,
    load_spellings,
    meanings,
)
from handsfree.understand.automaton import Builder
from tests.plan.some_answers import some_answers as answers
from tests.support.languages import machine_of, sentences

pytestmark = pytest.mark.quick


@pytest.fixture(scope="module")
def letters(automaton) -> Letters:
    return Letters(automaton)


@pytest.fixture(scope="module")
def mean(automaton, demo):
    def meant(words) -> tuple[Meaning, ...]:
        return meanings(words, automaton, demo.context)

    return meant


def spelt(letters: Letters, text: str) -> bool:
    """Whether the text can be walked letter by letter to an end."""
    state = letters.start
    for letter in text.lower():
        assert (letter in letters.letters(state)) == (letters.step(state, letter) != ())
        state = letters.step(state, letter)
        if not state:
            return False
    return letters.is_final(state)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Cylinder 6 top, 22.75", "cylinder six top twenty two point seventy five"),
        ("Cylinder three, top, eighteen thou.", "cylinder three top eighteen thou"),
        ("cylinder three top 18 now", "cylinder three top eighteen thou"),
        ("Sill under for top, ate valve!", "cylinder four top eight thou"),
        ("Cylinder 2, 2nd ring, twenty-two and a half.", "cylinder two second ring twenty two and a half"),
        ("18 1/2", "eighteen and a half"),
        ("18 \u00bd thou", "eighteen and a half thou"),
        ("17 3/4", "seventeen and three quarters"),
        ("3/4 of a thou", "three quarters of a thou"),
        ("185", "eighteen five"),
        ("187", "one eight seven"),
        ("1 8 5", "one eight five"),
        (".018", "point zero one eight"),
        ("0.45 mm", "zero point forty five millimetre"),
        ("18. 5", "eighteen five"),
        ("305", "three zero five"),  # and not thirty five
        ("0.205", "zero point two zero five"),
        ("18.506", "eighteen point five zero six"),
        ("18.50", "eighteen point fifty"),
        ("30 5", "thirty five"),
        ("twenty 5", "twenty five"),
        ("22.05", "twenty two point zero five"),
        ("Now", None),
        ("Go to cylinder 2", "go to cylinder two"),
        ("no go to", "no go two"),
        ("say again.", "say again"),
        ("What's left?", "what's left"),
        ("Whats left", "what's left"),
        ("What\u2019s left", None),
        ("stand bye", "stand by"),
        ("18.", "eighteen"),
        ("18 .", None),
        ("1.8", "one point eight"),
        ("1. 8", "one eight"),
        ("1 . 8", None),  # a point, or the end of a sentence? neither
        ("20. 4", None),  # 20.4, or twenty four with a pause? neither
        ("20. four thou", None),
        ("20, 4", "twenty four"),
        ("204", "two zero four"),
        ("20.", "twenty"),
        ("cylinder 2 top 20. Cylinder 3 top 18", "cylinder two top twenty cylinder three top eighteen"),
        ("1 .8", "one point eight"),
        (". 8", None),
        (".8.", "point eight"),
        ("18.5.", "eighteen point five"),
        ("18..", None),
        ("18,19", None),
        ("eighteen5", "eighteen five"),
        ("hello", None),
        ("", None),
    ],
)
def test_written_text_is_these_words(letters, text, words):
    found = letters.words(text)
    if words is None:
        assert found == ()
    else:
        assert tuple(words.split()) in found
    assert spelt(letters, text) == bool(found)


def test_digits_run_together_are_never_a_sure_value_when_they_could_be_two(letters, mean):
    """Spoken "eighteen five" and spoken "one eight five" may both be written 185: it is asked about."""
    (words,) = letters.words("185")
    assert [m.commands for m in mean(words)] == [(Reading(length("18.5")),)]
    assert not mean(words)[0].sure


def test_the_point_of_a_number_is_not_the_end_of_a_sentence(letters):
    state = letters.step(letters.start, "18.")
    assert "5" in letters.letters(state)
    assert " " in letters.letters(state)


def test_a_stop_is_only_taken_before_a_blank_or_the_end(letters):
    assert letters.words("cylinder,three top eighteen") == ()
    assert letters.words("cylinder, three top eighteen")


def test_capitals_are_free_everywhere(letters):
    assert letters.words("CYLINDER THREE TOP EIGHTEEN THOU") == letters.words(
        "cylinder three top eighteen thou"
    )


# --- properties ---------------------------------------------------------------------------------

SEEDS = st.integers(0, 2**32)


class Speaker:
    """Says random phrases of the demo plan, and knows what they mean. Its repr is short."""

    def __init__(self, automaton, letters, mean) -> None:
        self.letters, self.mean = letters, mean
        self._machine = machine_of(automaton)

    def phrase(self, rng: random.Random) -> tuple[str, ...]:
        return next(iter(sentences(self._machine, rng, 1)))


@pytest.fixture(scope="module")
def speaker(automaton, letters, mean) -> Speaker:
    return Speaker(automaton, letters, mean)


def taken(meaning: Meaning) -> Meaning:
    """A meaning without what it takes back: that is compared with the log, and asked about if it differs."""
    return replace(
        meaning,
        commands=tuple(
            replace(one, withdrawn=None) if isinstance(one, Reading) else one for one in meaning.commands
        ),
    )


@given(SEEDS)
def test_a_phrase_in_plain_words_means_what_it_says(speaker, seed):
    words = speaker.phrase(random.Random(seed))
    found = speaker.letters.words(" ".join(words))
    assert found
    for reading in found:
        assert speaker.mean(reading) == speaker.mean(words)


@given(SEEDS)
def test_a_phrase_in_any_spelling_with_blanks_between_means_what_it_says(speaker, seed):
    """Each word in any of its written forms; the meaning stays, or becomes one to ask about.

    "Move to seconds" may be the second ring or the round of them: neither is a size.
    """
    rng = random.Random(seed)
    words = speaker.phrase(rng)
    spellings = load_spellings()
    text = " ".join(rng.choice(spellings.of((word,))) for word in words)
    text = text.replace(". ", ".")  # a point is written against its digits
    text = "".join(letter.upper() if rng.random() < 0.3 else letter for letter in text)
    found = speaker.letters.words(text)
    assert found, text
    for reading in found:
        for meaning in speaker.mean(reading):
            same = meaning in speaker.mean(words) or not meaning.sure
            assert same or not any(map(has_size, (meaning, *speaker.mean(words)))), text


def has_size(meaning: Meaning) -> bool:
    """Whether a meaning logs anything."""
    return any(isinstance(command, Reading | Bracket) for command in meaning.commands)


def believable(command: object) -> bool:
    """Whether a reading lies in the plan's windows, so that it is logged unasked."""
    sizes = [command.value] if isinstance(command, Reading) else []
    if isinstance(command, Bracket):
        sizes = [command.goes, command.stops]
    return all(length("4.5").mm <= size.mm <= length("50").mm for size in sizes)


@given(st.decimals(5, 45, places=3))
def test_a_written_decimal_is_that_decimal_and_nothing_else(speaker, size):
    """0.205 was once read as point twenty and five."""
    readings = speaker.letters.words(f"{plain(size)} thou")
    assert readings
    values = {
        command.value for words in readings for meaning in speaker.mean(words) for command in meaning.commands
    }
    assert length(plain(size)) in values
    if "." in plain(size):
        assert values == {length(plain(size))}


@given(SEEDS)
@example(seed=608)  # "20. fower", said with a point
def test_numerals_never_turn_into_another_sure_value(speaker, seed):
    """Number words run together as numerals: what comes back is the same, or is asked about.

    "Nine two" in numerals is 92, which no gap of this plan can be: that is asked about, too.
    """
    rng = random.Random(seed)
    words = speaker.phrase(rng)
    spellings = load_spellings()
    text, tens = "", False
    for word in words:
        numerals = [form for form in spellings.of((word,)) if form.isdigit() or form == "."]
        form = numerals[0] if numerals and rng.random() < 0.8 else word
        joined = text and (text[-1].isdigit() or text[-1] == ".") and (form.isdigit() or form == ".")
        if tens and form.isdigit():
            joined = False  # nobody writes 203 for twenty three
        tens = form.isdigit() and len(form) == 2 and form.endswith("0") and form != "10"
        text += form if not text or joined else f" {form}"
    for reading in speaker.letters.words(text):
        accepted = [meaning for meaning in speaker.mean(reading) if meaning.sure]
        if len(speaker.mean(reading)) == 1 and accepted and all(map(believable, accepted[0].commands)):
            assert taken(accepted[0]) in [taken(meaning) for meaning in speaker.mean(words)], text


@given(SEEDS)
def test_every_reading_of_a_text_means_the_same(speaker, seed):
    """A text that could be read as two sure values would be a guess.

    "Now" is a word, and how "thou" is written: with it a size may be sure that is asked about without it.
    """
    rng = random.Random(seed)
    spellings = load_spellings()
    words = speaker.phrase(rng)
    found = speaker.letters.words(
        "".join(rng.choice([" ", "", "-"]) + rng.choice(spellings.of((w,))) for w in words)
    )
    meant = [set(speaker.mean(reading)) for reading in found]
    assert len({meaning for each in meant for meaning in each if meaning.sure and len(each) == 1}) <= 1, found
    known = [{replace(meaning, sure=True) for meaning in each} for each in meant]
    assert not known or set.intersection(*known), found


@given(st.text(string.ascii_lowercase + string.digits + " .,-/'", max_size=12))
def test_letter_by_letter_and_as_a_whole_agree(letters, text):
    assert spelt(letters, text) == bool(letters.words(text))


@given(SEEDS)
def test_letters_that_may_follow_are_exactly_those_that_can_be_stepped_to(speaker, seed):
    rng = random.Random(seed)
    state = speaker.letters.step(speaker.letters.start, " ".join(speaker.phrase(rng))[: rng.randrange(1, 30)])
    assert state
    everything = {*string.printable, *"\u00bd\u00bc\u00be", *speaker.letters.letters(state)}
    assert speaker.letters.letters(state) == {x for x in everything if speaker.letters.step(state, x)}


# --- the spelling file --------------------------------------------------------------------------


def test_spellings_of_a_word_begin_with_the_word_itself():
    spellings = load_spellings()
    assert spellings.of(("eight",))[:2] == ("eight", "ate")
    assert "8" in spellings.of(("eight",))
    assert spellings.of(("and", "a", "half")) == ("1/2", "\u00bd")
    assert spellings.of(("unheard",)) == ("unheard",)


def test_every_cardinal_has_its_numeral_and_no_numeral_two_cardinals():
    spellings = load_spellings()
    owners: dict[str, set[tuple[str, ...]]] = {}
    for words, forms in spellings.forms.items():
        for form in forms:
            if form.isdigit():
                owners.setdefault(form, set()).add(words)
    assert {int(form) for form in owners if int(form)} == set(range(1, 100))
    assert all(len(words) == 1 for words in owners.values())


def test_no_spelling_of_a_number_word_is_that_of_another():
    """A homophone that two number words shared would turn one value into another."""
    from handsfree.understand import cardinal_words
    from handsfree.understand.numbers import digit_words

    spellings = load_spellings()
    numbers = {(word,) for n in range(1, 100) for word in cardinal_words(n)} | {tuple(digit_words("0"))}
    seen: dict[str, tuple[str, ...]] = {}
    for words in sorted(numbers):
        for form in spellings.of(words):
            assert seen.setdefault(form, words) == words


def words_of_the_templates() -> set[str]:
    """What can be said of a plan that is made from all the templates: its checks, axes and parts."""
    names = [name for name, _ in template_list()]
    plan = parse_plan(new_plan(names, answers(names, duty="road")))
    return {word for check in plan.checks for word in listen_for(plan, check).automaton.words}


def test_every_word_of_the_spelling_file_is_in_the_grammar():
    """A word that no grammar holds would be dead weight, or a slip of the pen."""
    import tomllib

    from handsfree.understand.grammar import grammar_folder, load_grammar

    words = set(load_grammar().compile().words)
    words |= words_of_the_templates()
    tables = tomllib.loads((grammar_folder() / "spellings.toml").read_text("utf-8"))
    assert {word for table in tables.values() for key in table for word in key.split()} <= words


def test_a_group_of_words_with_a_spelling_of_its_own_is_found_across_rules():
    """The group's words may lie in different rules, so that nothing but free arcs join them."""
    builder = Builder()
    states = [builder.state() for _ in range(7)]
    builder.phrase(states[0], states[1], ["and"])
    builder.free(states[1], states[2], "t")
    builder.phrase(states[2], states[3], ["a"])
    builder.free(states[3], states[4])
    builder.phrase(states[4], states[5], ["half"])
    builder.free(states[5], states[6])
    automaton = builder.build(states[0], states[6])
    letters = Letters(automaton, Spellings({("and", "a", "half"): ("1/2",)}))
    assert letters.words("1/2") == (("and", "a", "half"),)
    assert letters.words("and 1/2") == ()


def written(tmp_path, text: str):
    path = tmp_path / "odd.toml"
    path.write_text(text, "utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[words\n", "odd.toml: this is no whole TOML file: .*; mend that place"),
        ('[words]\ntop = "tap"', r'spellings ".*odd.toml", \[words\] top: wanted a list of texts'),
        ("[words]\ntop = [1]", r"\[words\] top: wanted a list of texts"),
        ('[words]\ntop = [""]', r"\[words\] top: wanted a list of texts"),
        ('words = ["top"]', r"\[words\]: wanted a table of words"),
        ('[word]\ntop = ["tap"]', r'"word" is neither words nor phrases'),
    ],
)
def test_a_spelling_file_that_is_wrong_is_refused_in_a_sentence(tmp_path, text, sentence):
    with pytest.raises(GrammarError, match=sentence):
        load_spellings(written(tmp_path, text))


def test_a_spelling_file_that_is_missing_is_refused_in_a_sentence(tmp_path):
    with pytest.raises(GrammarError, match=r"gone: there is no such file of spellings; check its name"):
        load_spellings(tmp_path / "gone")


def test_an_empty_spelling_file_leaves_the_words_and_the_numerals(tmp_path):
    spellings = load_spellings(written(tmp_path, ""))
    assert spellings.of(("eighteen",)) == ("eighteen", "18", "18th", "eighteenth")
    assert spellings.of(("thirty", "two")) == ("32", "32nd", "32th")
    assert spellings.of(("two",)) == ("two", "2")  # "2nd" and "second" are the ring
    assert spellings.of(("top",)) == ("top",)
