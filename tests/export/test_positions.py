"""The CSV of positions: what stands at each, whoever measured it; and folds that stay linear."""

import csv
import io
import time
from datetime import UTC, datetime

import pytest

from handsfree.commands.bench import _stopped
from handsfree.export.csv_json import positions_to_csv
from handsfree.journal import Draft, Event, Journal, Kind
from handsfree.length import length
from handsfree.session import fold, opening
from handsfree.session.fold import extend, start
from tests.support import journals

pytestmark = pytest.mark.quick
PLAN = journals.plan(2)
TOP, SECOND, *_ = PLAN.checks[0].positions


def test_every_position_has_one_row_with_what_stands():
    with Journal.in_memory(clock=journals.clock()) as journal:
        journal.append(opening(PLAN, who="J. Marten"))
        journals.measure(journal, PLAN, TOP, "14.50")
        journals.measure(journal, PLAN, TOP, "18.250")
        journal.append(Draft(Kind.RESUMED, data={"who": "K. Ahlers"}))
        wrong = journals.measure(journal, PLAN, SECOND, "80")
        journal.append(Draft(Kind.VOID, refers_to=wrong.id))
        journals.measure(journal, PLAN, SECOND, "17.0")
        events = journal.events()
    rows = list(
        csv.DictReader(io.StringIO(positions_to_csv(fold(PLAN, events), events).decode(), newline=""))
    )
    assert len(rows) == sum(len(check.positions) for check in PLAN.checks)
    first, second, third, *_ = rows
    assert [first[name] for name in ("value", "verdict", "tries", "who")] == [
        "18.250",
        "good",
        "2",
        "J. Marten",
    ]
    assert [second[name] for name in ("value", "verdict", "tries", "who")] == [
        "17.0",
        "short",
        "1",
        "K. Ahlers",
    ]
    assert [first[name] for name in ("lower", "upper", "upper_unit")] == ["18", "19.5", "thou"]
    assert [third[name] for name in ("value", "verdict", "tries", "who")] == ["", "", "0", ""]


def _many(count, make):
    return [Event(str(n), n + 1, datetime(2026, 11, 25, tzinfo=UTC), 0, "", make(n)) for n in range(count)]


STREAMS = {
    "readings": lambda _: Draft(Kind.READING, "ring gaps", TOP, length("18")),
    "corrections of one": lambda n: Draft(
        Kind.CORRECTION if n else Kind.READING, "ring gaps", TOP, length("18"), refers_to="0"
    ),
    "voided turns": lambda n: (
        Draft(Kind.VOID, refers_to=str(n - 1))
        if n % 2
        else Draft(Kind.TURNS, "ring gaps", TOP, data={"count": 1})
    ),
}


@pytest.mark.parametrize("make", STREAMS.values(), ids=STREAMS.keys())
def test_a_fold_of_twenty_thousand_events_at_one_place_is_linear(make):
    began = time.process_time()
    extend(start(PLAN), _many(20_000, make))
    assert time.process_time() - began < 4


def test_voided_turns_are_gone_and_others_are_not():
    events = _many(3, lambda n: Draft(Kind.TURNS, "ring gaps", TOP, data={"count": n + 1}))
    events += [Event("v", 4, events[0].at, 0, "", Draft(Kind.VOID, refers_to="1"))]
    session = fold(PLAN, events)
    assert [int(turn.count) for turn in session.turns["ring gaps", TOP]] == [1, 3]


def test_stopping_says_where_what_was_answered_is(tmp_path):
    with Journal.open(tmp_path / "j") as journal:
        journals.log_many(journal, PLAN, 1)
        assert _stopped(journal) == "stopped; everything answered is in the journal"
        (tmp_path / "j").rename(tmp_path / "k")
        journals.measure(journal, PLAN, TOP, "18")
        assert _stopped(journal).startswith("stopped; not all that was answered is in the journal: ")
        (tmp_path / "k").rename(tmp_path / "j")
    with Journal.in_memory() as journal:
        assert _stopped(journal) == "stopped"
