"""What stands: rounds of shims, readings in doubt, and sheets that never mix what doesn't belong together."""

from __future__ import annotations

import pytest

from handsfree.journal import Draft, Journal, Kind
from handsfree.judge import State
from handsfree.length import length
from handsfree.session import comparable, part_figures, results, state_at, states, with_draft
from tests.dialogue.rules import BEARINGS, GAPS, HEAD, LASH, plan_of
from tests.dialogue.talk import Clock, Talk

pytestmark = pytest.mark.quick


def keyed(text: str, *keys: str) -> Talk:
    bench = Talk(plan_of(HEAD + text), Journal.in_memory(clock=Clock()))
    for entry in keys:
        bench.key(entry)
    return bench


def first(bench: Talk):
    return results(bench.session)[0]


def test_a_sheet_says_what_to_fit_and_then_nothing_until_both_are_read_again():
    assert first(keyed(LASH, "2.6", "0.08")).text.endswith("fit 2.55 mm for 0.13 mm")
    changed = first(keyed(LASH, "2.6", "0.08", "1*1*2.55"))
    assert changed.text == "shim 2.55 mm; lash 0.08 mm"
    assert not changed.complete
    assert changed.verdict is None
    again = first(keyed(LASH, "2.6", "0.08", "1*1*2.55", "0.13"))
    assert again.text.endswith("keep the shim")
    assert again.complete


def test_a_clearance_with_a_part_in_doubt_is_not_on_the_sheet():
    bench = keyed(BEARINGS, "2.225", "61.2", "2.1", "1*1*2.227")
    assert bench.session.last_entry.event.draft.verdict == "uncertain"
    assert first(bench).figure is None
    assert not first(bench).complete
    bench.key("1*1*2.227")
    assert first(bench).figure == length("4.6")


@pytest.mark.parametrize(
    ("keys", "state"),
    [
        ((), None),
        (("1*1*2.225",), State.GOOD),  # read, and its clearance pending
        (("1*1*2.225-",), State.OPEN),
        (("1*1*2.225", "1*2*61.2", "1*3*2.1"), State.GOOD),
        (("1*1*2.225", "1*2*61.2", "1*3*2.0990"), State.OVER),
        (("1*1*2.225", "/"), None),
    ],
)
def test_state_of_a_part(keys, state):
    bench = keyed(BEARINGS, *keys)
    check = bench.plan.checks[0]
    assert state_at(bench.session, check, check.positions[0]) is state
    assert states(bench.session, check).get(check.positions[0]) is state


def test_only_readings_since_a_ring_was_over_are_compared():
    bench = keyed(GAPS, "1*1*17", "1*1*25", "1*1*16", "1*1*17")
    check = bench.plan.checks[0]
    found = comparable(bench.session, check, check.positions[0])
    assert [str(entry.value) for entry in found] == ["16 thou", "17 thou"]


def test_no_more_readings_are_looked_at_than_are_compared():
    """However often one place was read, the next reading costs the same."""
    bench = keyed(GAPS, *["1*1*18"] * 15)
    check = bench.plan.checks[0]
    here = check.name, check.positions[0]
    assert len(comparable(bench.session, check, here[1])) == 9  # ten with the next one
    assert bench.session.standing(*here) is bench.session.standing(*here)  # nothing is sorted for a look


def test_with_draft_is_the_session_that_the_journal_will_give():
    bench = keyed(GAPS, "1*1*17")
    check = bench.plan.checks[0]
    draft = Draft(Kind.READING, check=check.name, position=check.positions[1], value=length("18"))
    ahead = with_draft(bench.session, draft)
    event = bench.journal.append(draft)
    assert ahead.current(check.name, check.positions[1]).value == event.draft.value
    assert ahead.count == bench.session.count + 1
    assert bench.session.current(check.name, check.positions[1]) is None  # the old one is as it was


def test_parts_of_other_items_are_no_concern_of_this_one():
    bench = keyed(BEARINGS, "1*1*2.225", "2*2*61.2")
    check = bench.plan.checks[0]
    assert list(part_figures(bench.session, check, check.items[0])) == [check.positions[0]]
