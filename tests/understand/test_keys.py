"""The keypad: every entry to its command and back, bad keys, Num Lock, key files."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from handsfree.errors import KeypadError
from handsfree.length import Length, Unit, length
from handsfree.plan import Position
from handsfree.understand import (
    BACK,
    ENTER,
    KEYS,
    WIPE,
    WORD_KEYS,
    Bracket,
    ChangeCheck,
    Control,
    Feel,
    Move,
    Pad,
    Reading,
    Turns,
    Word,
    entries,
    read_keys,
)

pytestmark = pytest.mark.quick

RINGS = Pad(
    Unit.THOU,
    (("cylinder", tuple(str(n) for n in range(1, 13))), ("ring", ("top", "second"))),
    ("ring gaps", "rod bearings"),
)
ODD = Pad(
    Unit.MM,
    (("main", ("front", "b2", "rear")), ("side", ("3", "1", "12")), ("valve", ("v2", "v10"))),
    ("mains",),
)
TOP_3 = Position.of({"cylinder": "3", "ring": "top"})


@pytest.mark.parametrize(
    ("keys", "command"),
    [
        ("18", Reading(length("18"))),
        ("18.5", Reading(length("18.5"))),
        (".5", Reading(length("0.5"))),
        ("0.5", Reading(length("0.5"))),
        ("18-", Reading(length("18"), feel=Feel.NO_GO)),
        ("18+", Reading(length("18"), feel=Feel.GO)),
        ("18+-", Reading(length("18"), feel=Feel.DRAG)),
        ("/19", Reading(length("19"), corrects=True)),
        ("/3*1*19-", Reading(length("19"), TOP_3, Feel.NO_GO, corrects=True)),
        ("3*1*18", Reading(length("18"), TOP_3)),
        ("3*1*", Move(TOP_3)),
        ("12*", Move(Position.of({"cylinder": "12"}))),
        ("18+19-", Bracket(length("18"), length("19"))),
        ("3*1*.5+18.25-", Bracket(length("0.5"), length("18.25"), TOP_3)),
        ("10/", Turns(Decimal(10))),
        ("2.5/", Turns(Decimal("2.5"))),
        (".*2", ChangeCheck("rod bearings")),
    ],
)
def test_keys_are_this_command(keys, command):
    assert RINGS.command(keys) == command


@pytest.mark.parametrize("word", Word)
def test_every_procedure_word_can_be_keyed_and_comes_back(word):
    keys = RINGS.keys(Control(word))
    assert keys is not None
    assert RINGS.command(keys) == Control(word)


def test_no_two_words_share_their_keys_and_no_word_is_a_value():
    assert len(set(WORD_KEYS.values())) == len(WORD_KEYS) == len(Word)
    assert all(set(keys) <= KEYS and not set(keys) & set("123456789") for keys in WORD_KEYS)


def test_enter_alone_changes_nothing():
    """A bounced Enter after an entry must do no harm."""
    assert RINGS.command("") == Control(Word.SAY_AGAIN)


@pytest.mark.parametrize(
    ("keys", "sentence"),
    [
        ("18.", 'keys "18." mean nothing here; key a value such as 18.5 and Enter, or Num Lock to wipe'),
        ("1.8.5", 'keys "1.8.5" mean nothing here'),
        ("18++", 'keys "18\\+\\+" mean nothing here'),
        ("18-+", "mean nothing here"),
        ("+18", "mean nothing here"),
        ("-2", "mean nothing here"),
        ("12345", "mean nothing here"),
        ("1.123456", "mean nothing here"),
        ("/", None),
        ("/3*1*", "mean nothing here"),
        ("00/", "mean nothing here"),
        ("/10/", "mean nothing here"),
        ("/18+19-", "mean nothing here"),
        ("3*1*10/", "mean nothing here"),
        ("18+19", "mean nothing here"),
        ("18-19+", "mean nothing here"),
        ("*18", "mean nothing here"),
        ("3*1*2*18", "mean nothing here"),
        ("13*1*18", 'keys "13\\*1\\*18": there is no cylinder 13 in this plan'),
        ("3*3*18", "there is no ring 3 in this plan"),
        ("0*1*18", "there is no cylinder 0 in this plan"),
        ("3*18", 'keys "3\\*18" name no ring; key its number and \\* before the value'),
        (".*3", "the plan has 2 checks; key .\\* and one of them"),
        (".*0", "the plan has 2 checks"),
        (".*.", "mean nothing here"),
        ("18 ", "mean nothing here"),
        ("18\n", "mean nothing here"),
    ],
)
def test_bad_keys_get_a_sentence(keys, sentence):
    if sentence is None:
        assert RINGS.command(keys) == Control(Word.DISREGARD)
        return
    with pytest.raises(KeypadError, match=sentence):
        RINGS.command(keys)


# Keyed in the shortest way these would be words: 0+ is done, 0- not done.
LEAVES_OF_NOTHING = [
    Reading(Length(Decimal(0), unit), feel=feel) for unit in Unit for feel in (Feel.GO, Feel.NO_GO)
]


@given(st.text("0123456789./*-+", max_size=12))
def test_any_keys_are_a_command_or_a_sentence(keys):
    for pad in (RINGS, ODD):
        try:
            command = pad.command(keys)
        except KeypadError as error:
            sentence = str(error)
        else:
            sentence = None
            again = pad.keys(command)
            assert again is not None or command in LEAVES_OF_NOTHING
            assert again is None or pad.command(again) == command
        assert sentence is None or sentence.startswith(f'keys "{keys}"')


# --- round trip ---------------------------------------------------------------------------------

NUMBERS = st.decimals("0", "9999.99999", places=5)


def places(pad: Pad, whole: bool):
    def named(depth: int):
        labels = [st.sampled_from(labels) for _, labels in pad.axes[:depth]]
        names = [name for name, _ in pad.axes[:depth]]
        return st.tuples(*labels).map(lambda chosen: Position(tuple(zip(names, chosen, strict=True))))

    return named(len(pad.axes)) if whole else st.integers(1, len(pad.axes)).flatmap(named)


def commands(pad: Pad):
    sizes = st.builds(Length, NUMBERS, st.just(pad.unit))
    at = st.none() | places(pad, whole=True)
    return st.one_of(
        st.builds(Reading, sizes, at, st.none() | st.sampled_from(Feel), st.booleans()),
        st.builds(Bracket, sizes, sizes, at),
        st.builds(Move, places(pad, whole=False)),
        st.builds(ChangeCheck, st.sampled_from(pad.checks)),
        st.builds(Turns, NUMBERS.filter(bool)),
        st.builds(Control, st.sampled_from(Word)),
    ).filter(lambda command: command not in LEAVES_OF_NOTHING)


@given(st.sampled_from([RINGS, ODD]).flatmap(lambda pad: st.tuples(st.just(pad), commands(pad))))
def test_a_command_comes_back_from_its_keys(case):
    pad, command = case
    keys = pad.keys(command)
    assert keys is not None
    assert set(keys) <= KEYS
    assert pad.command(keys) == command


@given(commands(RINGS), commands(RINGS))
def test_two_commands_never_share_their_keys(one, other):
    assume(one != other)
    assert RINGS.keys(one) != RINGS.keys(other)


@pytest.mark.parametrize(
    "command",
    [
        Reading(length("0.45", "mm")),  # in another unit than the pad's
        Reading(length("-2")),
        Reading(length("12345")),
        Reading(length("0.000001")),
        Bracket(length("18"), length("0.5", "mm")),
        Bracket(length("-1"), length("1")),
        Turns(Decimal(-1)),
        Turns(Decimal(0)),  # 0/ is the wheel dressed
        *LEAVES_OF_NOTHING,
        ChangeCheck("gone"),
        Move(Position.of({"ring": "second"})),  # 2* would be cylinder 2
        Move(Position.of({"ring": "top", "cylinder": "3"})),
        Move(Position.of({"cylinder": "13"})),
        Move(Position.of({"cylinder": "3", "ring": "top", "side": "left"})),
        Move(Position(())),
        Reading(length("18"), Position.of({"ring": "second"})),
        Bracket(length("18"), length("19"), Position.of({"ring": "second"})),
    ],
)
def test_what_cannot_be_keyed_has_no_keys(command):
    assert RINGS.keys(command) is None


def test_labels_are_keyed_by_the_number_they_end_in_or_by_their_place():
    assert [ODD.number_of("main", label) for label in ("front", "b2", "rear")] == ["1", "2", "3"]
    assert [ODD.number_of("side", label) for label in ("3", "1", "12")] == ["3", "1", "12"]
    assert [ODD.number_of("valve", label) for label in ("v2", "v10")] == ["2", "10"]
    alike = Pad(Unit.MM, (("valve", ("in 1", "out 1")),))
    assert [alike.number_of("valve", label) for label in ("in 1", "out 1")] == ["1", "2"]


# --- key presses --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "found"),
    [
        (["1", "8", ENTER], ["18"]),
        (["1", "7", WIPE, "1", "8", ENTER], ["18"]),
        ([WIPE, ENTER], [""]),
        (["1", "8"], []),  # never without Enter
        (["1", ENTER, "2", ENTER, ENTER], ["1", "2", ""]),
        ([], []),
        (["1", "8", ENTER, "9", WIPE], ["18"]),
        ([*"4*1*19", BACK, "8", ENTER], ["4*1*18"]),
        ([BACK, "1", BACK, BACK, "8", ENTER], ["8"]),
    ],
)
def test_entries_end_with_enter_and_are_wiped_by_num_lock(keys, found):
    assert entries(keys) == found


def test_a_key_file_is_read_with_or_without_blanks_and_with_remarks():
    text = "3*1*18 Enter # three top\n\n 1 8 . 5 enter\n1 7 Num Lock NumLock numlock backspace\n# all\n"
    assert read_keys(text, "a.keys") == [
        *("3", "*", "1", "*", "1", "8", ENTER),
        *("1", "8", ".", "5", ENTER),
        *("1", "7", WIPE, WIPE, WIPE, BACK),
    ]


@pytest.mark.parametrize(
    ("text", "line", "key"),
    [("18 Enter\n18,5 Enter", 2, ","), ("x", 1, "x"), ("\n\n18 Del", 3, "D"), ("\u0661", 1, "\u0661")],
)
def test_a_key_file_with_a_foreign_key_names_its_line(text, line, key):
    with pytest.raises(
        KeypadError, match=f'key file "a.keys", line {line}: "{key}" is no key of a number pad'
    ):
        read_keys(text, "a.keys")


def test_the_pad_has_seventeen_keys():
    """Source: HID Usage Tables 1.12, keyboard page, usages 0x53 to 0x63 (from memory)."""
    assert len(KEYS) == 0x63 - 0x53 + 1
