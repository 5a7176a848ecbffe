"""Shims that are used again: none is promised twice, none is offered that isn't there."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.journal import Draft, Event, Kind
from handsfree.length import Length, Unit
from handsfree.planfile import parse_plan
from handsfree.session import fold, results
from handsfree.session.results import shims_to_hand
from tests.dialogue.rules import HEAD, LASH

pytestmark = pytest.mark.quick

PLAN = parse_plan(
    HEAD
    + LASH.replace("cylinder = 2", "cylinder = 5").replace(
        'step = "0.05 mm"', 'step = "0.05 mm"\nreuse = true'
    )
)
CHECK = PLAN.checks[0]
SIZES = st.decimals("2.40", "2.80", places=2)
LASHES = st.decimals("0.03", "0.25", places=2)


@st.composite
def sessions(draw):
    """Fold readings of shims and lashes of any items, in any order."""
    events = []
    for number in range(draw(st.integers(0, 25))):
        item = draw(st.sampled_from(CHECK.items))
        part = draw(st.sampled_from(["shim", "lash"]))
        value: Decimal = draw(SIZES if part == "shim" else LASHES)
        draft = Draft(
            Kind.READING, CHECK.name, CHECK.at_part(item, part), Length(value, Unit.MM), verdict="good"
        )
        events.append(Event(str(number), number + 1, datetime(2026, 11, 25, tzinfo=UTC), 0, "0", draft))
    return fold(PLAN, events)


@given(sessions())
def test_no_more_shims_are_promised_than_came_out(session):
    promised: Counter[Decimal] = Counter()
    for result in results(session):
        choice = result.shim
        if choice is not None and choice.change and choice.choice is not None:
            promised[choice.choice.value] += 1
    stock = {size.value for size in CHECK.shims}
    for size, count in promised.items():
        if size in stock:
            continue
        read = [
            entry
            for item in CHECK.items
            for entry in session.standing(CHECK.name, CHECK.at_part(item, "shim"))
            if entry.value is not None and entry.value.value == size
        ]
        assert count <= len(read)


@given(sessions())
def test_what_is_to_hand_was_measured_in_another_item(session):
    for item in CHECK.items:
        for shim in shims_to_hand(session, CHECK, item):
            assert shim.item != item
            standing = session.standing(CHECK.name, CHECK.at_part(shim.item, "shim"))
            assert shim.size in [entry.value for entry in standing]


@given(sessions())
def test_a_shim_out_of_another_item_brings_the_lash_inside(session):
    for result in results(session):
        choice, target = result.shim, result.target
        if choice is not None and choice.choice is not None and choice.change:
            assert target.lower.mm <= choice.predicted.mm <= target.upper.mm
