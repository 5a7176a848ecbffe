"""The display at checks of parts and shims, and at gaps whose targets follow measured bores."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from handsfree.live.state import LiveState
from handsfree.record import Journal
from handsfree.show.view import BenchView, Mark, bench_view
from tests.dialogue.rules import BEARINGS, HEAD, LASH, plan_of
from tests.dialogue.talk import Clock, Talk
from tests.dialogue.test_rings import MEASURED

pytestmark = pytest.mark.quick

NOW = datetime(2026, 11, 25, 8, tzinfo=UTC)


def view_of(text: str, *keys: str) -> BenchView:
    bench = Talk(plan_of(text), Journal.in_memory(clock=Clock()))
    for entry in keys:
        bench.key(entry)
    return bench_view(bench.session, LiveState(), NOW)


@pytest.mark.parametrize(
    ("text", "keys", "shown"),
    [
        (BEARINGS, ("2.225",), (Mark.NOTED, "shell", "measure")),
        (BEARINGS, ("2.225", "61.2", "2.1"), (Mark.GOOD, "GOOD", "good")),
        (BEARINGS, ("2.225", "61.2", "2.0995"), (Mark.OVER, "0.1", "over by")),
        (BEARINGS, ("2.225", "61.2", "2.1018"), (Mark.SHORT, "0.2", "short by")),
        (LASH, ("2.6", "0.08"), (Mark.SHORT, "2.55", "fit shim")),
        (LASH, ("2.6", "0.2"), (Mark.OVER, "2.65", "fit shim")),
        (LASH, ("3.1", "0.8"), (Mark.OVER, "0.64", "over by")),
        (LASH, ("2.6", "0.12"), (Mark.GOOD, "GOOD", "good")),
    ],
)
def test_parts_show_what_they_come_to_and_never_a_part_against_the_clearance(text, keys, shown):
    view = view_of(HEAD + text, *keys)
    assert (view.mark, view.amount, view.caption) == shown


def test_the_result_of_a_part_stays_while_the_next_one_is_in_hand():
    view = view_of(HEAD + BEARINGS, "2.225")
    assert (view.of, view.place, view.target) == ("1 housing", "1 shell", "about 61.2 thou")


def test_the_signs_of_parts_are_those_of_their_item():
    view = view_of(HEAD + BEARINGS, "2.225", "61.2", "2.0995", "2*1*2.225")
    marks = {
        cell.value: cell.mark for row in view.grid.cells for cell in row if cell is not None and cell.value
    }
    assert marks["2.0995"] is marks["61.2"] is Mark.OVER
    assert [cell.mark for row in view.grid.cells for cell in row].count(Mark.NOTED) == 1
    assert (view.done, view.total) == (1, 6)  # what is noted needs no more for now; what is over does


def test_a_shim_that_was_changed_opens_its_lash_again():
    view = view_of(HEAD + LASH, "2.6", "0.08", "1*1*2.55")
    marks = [cell.mark for row in view.grid.cells for cell in row]
    assert Mark.SHORT not in marks
    assert Mark.NOTED in marks


def test_targets_and_signs_follow_the_bores_as_they_were_measured():
    text = HEAD.rstrip() + '\nbore = "4.030 in"\n' + MEASURED
    before = view_of(text, ".*2", "1*1*18.5")
    after = view_of(text, ".*2", "1*1*18.5", ".*1", "4.0305", "4.03", ".*2", "1*1*")
    assert (before.target, after.target) == ("18 to 19.5 thou", "20 to 21.5 thou")
    assert after.grid.cells[0][0].mark is Mark.SHORT
    assert before.grid.cells[0][0].mark is Mark.GOOD
