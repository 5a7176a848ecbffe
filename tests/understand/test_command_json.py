"""Commands as JSON objects and back."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.length import Length, Unit, length
from handsfree.plan import Position
from handsfree.understand import (
    Bracket,
    ChangeCheck,
    Control,
    Feel,
    Move,
    Reading,
    Turns,
    Word,
    command_from,
    command_json,
)
from handsfree.understand.command import kind_of

pytestmark = pytest.mark.quick

TOP_3 = Position.of({"cylinder": "3", "ring": "top"})


@pytest.mark.parametrize(
    ("command", "form"),
    [
        (
            Reading(length("18.50"), TOP_3, Feel.NO_GO),
            {
                "kind": "reading",
                "cylinder": "3",
                "ring": "top",
                "value": "18.5",
                "unit": "thou",
                "feel": "no go",
            },
        ),
        (
            Reading(length("18")),
            {"kind": "reading", "cylinder": None, "ring": None, "value": "18", "unit": "thou", "feel": None},
        ),
        (
            Reading(length("0.45", "mm"), corrects=True),
            {
                "kind": "correction",
                "cylinder": None,
                "ring": None,
                "value": "0.45",
                "unit": "mm",
                "feel": None,
            },
        ),
        (
            Reading(length("19"), withdrawn=length("18")),
            {"kind": "reading", "cylinder": None, "ring": None, "value": "19", "unit": "thou", "feel": None}
            | {"withdrawn": {"value": "18", "unit": "thou"}},
        ),
        (Control(Word.SAY_AGAIN), {"kind": "say again"}),
        (Control(Word.CORRECTION), {"kind": "correction"}),
        (Move(Position.of({"cylinder": "4"})), {"kind": "move", "cylinder": "4"}),
        (ChangeCheck("ring gaps"), {"kind": "check", "check": "ring gaps"}),
        (Turns(Decimal("2.50")), {"kind": "turns", "count": "2.5"}),
        (
            Bracket(length("18"), length("19"), TOP_3),
            {"kind": "bracket", "cylinder": "3", "ring": "top", "goes": "18", "stops": "19"}
            | {"unit": "thou", "stops_unit": "thou"},
        ),
    ],
)
def test_a_command_has_this_form(command, form):
    assert command_json(command) == form


@pytest.mark.parametrize("word", Word)
def test_kinds_of_procedure_words_are_the_words_themselves(word):
    assert kind_of(Control(word)) == word.value
    assert command_from({"kind": word.value}) == Control(word)


VALUES = st.decimals("0", "9999", places=4)
LENGTHS = st.builds(Length, VALUES, st.sampled_from(Unit))
AXES = st.permutations(["cylinder", "ring", "main", "side"])
POSITIONS = st.builds(
    lambda names, labels: Position(tuple(zip(names, labels, strict=False))),
    AXES,
    st.lists(st.sampled_from(["1", "12", "top", "oil rail"]), min_size=1, max_size=4),
)
PLACES = st.none() | POSITIONS
COMMANDS = st.one_of(
    st.builds(
        Reading, LENGTHS, PLACES, st.none() | st.sampled_from(Feel), st.booleans(), st.none() | LENGTHS
    ),
    st.builds(Bracket, LENGTHS, LENGTHS, PLACES),
    st.builds(Move, POSITIONS),
    st.builds(ChangeCheck, st.text(min_size=1)),
    st.builds(Turns, VALUES),
    st.builds(Control, st.sampled_from(Word)),
)


@given(COMMANDS)
def test_a_command_comes_back_from_its_json_as_it_was(command):
    assert command_from(json.loads(json.dumps(command_json(command)))) == command


@given(COMMANDS)
def test_no_number_of_a_form_is_a_float_or_has_an_exponent(command):
    def numbers(form):
        for name, value in form.items():
            if isinstance(value, dict):
                yield from numbers(value)
            elif name in ("value", "goes", "stops", "count"):
                yield value

    for value in numbers(command_json(command)):
        assert isinstance(value, str)
        assert "E" not in value
        assert not (("." in value) and value.endswith("0"))


@pytest.mark.parametrize(
    "form",
    [
        {},
        {"kind": "shout"},
        {"kind": "reading"} | {"value": "18", "unit": "furlong"},
        {"kind": "reading"} | {"value": "18"},
        {"kind": "turns"},
    ],
)
def test_a_foreign_object_is_refused(form):
    with pytest.raises((KeyError, ValueError)):
        command_from(form)
