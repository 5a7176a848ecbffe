"""The file of phrases and what is refused in it."""

import re

import pytest

from handsfree.errors import VoiceError
from handsfree.judge.filing import PassBasis
from handsfree.length import length
from handsfree.plan import Position
from handsfree.speak import Logged, Tone, Verbosity, Wording
from handsfree.speak.phrasebook import PHRASES_FILE, fields_of, read_phrasebook, shipped_phrasebook

pytestmark = pytest.mark.quick

SHIPPED = PHRASES_FILE.read_text(encoding="utf-8")


def test_every_shipped_phrase_is_short_enough_for_the_ear():
    for phrase in shipped_phrasebook().values():
        for text in phrase.texts.values():
            assert len(text.split()) <= 25, f"{phrase.name}: {text}"


def test_terse_is_never_longer_than_normal_nor_normal_than_full():
    for phrase in shipped_phrasebook().values():
        filled = {verbosity: _typically(phrase, verbosity) for verbosity in Verbosity}
        terse, normal, full = (len(filled[verbosity].split()) for verbosity in Verbosity)
        assert terse <= normal <= full, phrase.name


def _typically(phrase, verbosity):
    fields = {name: name for name in fields_of(phrase.texts[verbosity])}
    typical = {"action": "File two", "stop": "Don't file", "remedy": "Don't file; try it in another bore"}
    return phrase.fill(verbosity, fields | typical)


def test_every_shipped_phrase_is_used_by_the_wording():
    source = "".join(path.read_text(encoding="utf-8") for path in PHRASES_FILE.parent.glob("*.py"))
    used = set(re.findall(r'"((?:head|verdict|talk|shim|hot|left|share|pass)\.\w+)"', source))
    used |= {name for name in shipped_phrasebook() if "." not in name and f'"{name}"' in source}
    used |= {f"pass.{pace.value.replace(' ', '_')}" for pace in PassBasis}
    families = {"action", "remedy", "stop", "trouble", "side", "first_plan"}
    assert {name for name in shipped_phrasebook() if name.split(".")[0] not in families} == used


def test_every_remedy_has_its_terse_stop():
    names = {
        family: {n.split(".")[1] for n in shipped_phrasebook() if n.startswith(family)}
        for family in ("remedy", "stop")
    }
    assert names["remedy"] == names["stop"]


def test_own_file_of_phrases_changes_what_is_said(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(SHIPPED.replace('text = "Say again?"', 'text = "Pardon?"'), encoding="utf-8")
    book = read_phrasebook(own)
    assert Wording(book=book).say_again().text == "Pardon?"
    assert Wording().say_again().text == "Say again?"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('text = "Say again?"', 'text = "Say {again}?"', r"\[talk.say_again\]: no field \{again\}"),
        ('text = "Say again?"', 'text = "Say {0}?"', r"\{0\} is not a plain field"),
        ('text = "Say again?"', 'text = "Say {x:3}?"', "is not a plain field"),
        ('text = "Say again?"', "text = 5", "text is not a sentence"),
        ('text = "Say again?"', 'txt = "Say again?"', r"talk.say_again.*missing|never used"),
        ('terse = "good."', "", "no terse sentence"),
        ('tone = "again"', 'tone = "agian"', 'no tone "agian"'),
        ("[talk.say_again]", "[talk.say_agian]", r"\[talk.say_again\] is missing"),
        ("[talk.say_again]", "[talk.extra]\ntext='x'\n[talk.say_again]", r"\[talk.extra\] is never used"),
        ("[talk.say_again]", "[talk.say_again", "no whole TOML file"),
        ('file = "file {amount}"', "file = 3", "wanted a sentence, found 3"),
    ],
)
def test_misshapen_phrases_are_refused_with_their_place(tmp_path, old, new, message):
    own = tmp_path / "own.toml"
    assert old in SHIPPED
    own.write_text(SHIPPED.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(VoiceError, match=message) as caught:
        read_phrasebook(own)
    assert "own.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_missing_file_of_phrases_is_one_sentence(tmp_path):
    with pytest.raises(VoiceError, match="no such file of phrases"):
        read_phrasebook(tmp_path / "none.toml")


def test_fields_of_an_open_brace_are_refused():
    with pytest.raises(ValueError, match=r"expected '}'"):
        fields_of("Say {again")


def test_tones_of_the_verdicts_are_the_ones_promised():
    logged = Logged(Position.of({"cylinder": "3", "ring": "top"}), length("1"))
    say = Wording().verdict
    assert say.short(logged, length("1")).tone is Tone.SHORT
    assert say.good(logged).tone is Tone.GOOD
    assert say.over(logged, length("1")).tone is Tone.OVER
