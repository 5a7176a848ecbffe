"""What holds for any stream of events, however odd."""

import csv
import io
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from functools import reduce

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.export import to_csv, to_json
from handsfree.export.csv_json import from_json
from handsfree.journal import Draft, Event, Heard, Journal, Kind, LeafSide, head
from handsfree.length import Length, Unit
from handsfree.plan import Position
from handsfree.session import Fate, fold, step
from handsfree.session.fold import extend, start
from tests.support import journals

pytestmark = pytest.mark.quick

PLAN = journals.plan(2)
PLACES = [(check.name, position) for check in PLAN.checks for position in check.positions]

anything = st.text(st.characters(), max_size=12)  # surrogates, NUL and all
decimals = st.decimals(
    allow_nan=False, allow_infinity=False, min_value=-10_000, max_value=10_000, places=4
) | st.just(Decimal("1E+2"))
lengths = st.builds(Length, decimals, st.sampled_from(Unit))
json_ready = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | anything,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(anything, inner, max_size=3),
    max_leaves=5,
)
hearings = st.builds(
    Heard,
    st.sampled_from(["voice", "keypad"]),
    anything,
    st.none() | anything,
    st.none() | st.floats(),
    st.none() | st.floats(),
    st.none() | anything,
    st.none() | anything,
    st.none() | anything,
)
places = st.builds(Position, st.lists(st.tuples(anything, anything), max_size=3).map(tuple))
drafts = st.builds(
    Draft,
    st.sampled_from(Kind),
    check=st.none() | anything,
    position=st.none() | places,
    value=st.none() | lengths,
    bound=st.none() | st.sampled_from(LeafSide),
    other=st.none() | lengths,
    feel=st.none() | anything,
    refers_to=st.none() | anything,
    verdict=st.none() | st.sampled_from(["short", "good", "over", "uncertain", "open"]),
    remaining=st.none() | lengths,
    heard=st.none() | hearings,
    note=st.none() | anything,
    data=st.dictionaries(anything, json_ready, max_size=3),
)
offsets = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
times = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=offsets)


@st.composite
def streams(draw):
    """Events that refer to one another, to nothing, and to themselves never."""
    events = []
    for number in range(draw(st.integers(0, 25))):
        kind = draw(st.sampled_from([Kind.READING] * 3 + [Kind.CORRECTION, Kind.VOID] * 2 + list(Kind)))
        check, position = draw(st.sampled_from([(None, None), *PLACES]))
        refers_to = draw(st.none() | st.integers(0, number - 1).map(str)) if number else None
        draft = Draft(
            kind,
            check,
            position,
            Length(Decimal(number), Unit.THOU) if kind in (Kind.READING, Kind.CORRECTION) else None,
            refers_to=refers_to,
            data={"count": "2.5"} if kind is Kind.TURNS else {},
        )
        at = datetime(2026, 11, 25, tzinfo=UTC) + timedelta(seconds=number)
        events.append(Event(str(number), number + 1, at, 0, "0.1.0", draft))
    return events


@given(streams(), st.data())
def test_folding_a_prefix_and_then_the_rest_is_folding_all(events, data):
    cut = data.draw(st.integers(0, len(events)))
    whole = fold(PLAN, events)
    assert extend(fold(PLAN, events[:cut]), events[cut:]) == whole
    assert reduce(step, events, start(PLAN)) == whole


@given(streams())
def test_what_became_of_each_entry_is_what_the_rules_say(events):
    """The rules, told once more as sets, without order: voided, else corrected, else it stands."""
    session = fold(PLAN, events)
    entries = [e for e in events if e.kind in (Kind.READING, Kind.CORRECTION, Kind.TICK)]
    assert [entry.event for entry in session.log()] == entries
    voided = {e.draft.refers_to for e in events if e.kind is Kind.VOID}
    corrected = {e.draft.refers_to for e in events if e.kind is Kind.CORRECTION and e.id not in voided}
    for entry in session.log():
        identity = entry.event.id
        wanted = (
            Fate.VOIDED if identity in voided else Fate.CORRECTED if identity in corrected else Fate.STANDS
        )
        assert entry.state is wanted
    standing = [entry for entry in session.log() if entry.stands]
    assert session.last_entry == (standing[-1] if standing else None)
    for check, position in session.entries:
        current = session.current(check, position)
        here = [entry for entry in standing if (entry.check, entry.position) == (check, position)]
        assert current == (max(here, key=lambda entry: (entry.measured, entry.number)) if here else None)
        in_order = sorted(here, key=lambda entry: (entry.measured, entry.number))
        assert session.standing(check, position) == tuple(in_order)


@given(streams())
def test_no_entry_is_ever_lost(events):
    session = fold(PLAN, events)
    assert len(session.log()) == sum(e.kind in (Kind.READING, Kind.CORRECTION, Kind.TICK) for e in events)
    table = list(csv.DictReader(io.StringIO(to_csv(session).decode(), newline="")))
    assert [row["id"] for row in table] == [entry.event.id for entry in session.log()]
    assert [row["state"] for row in table] == [entry.state.value for entry in session.log()]


@given(st.lists(st.tuples(drafts, times), max_size=6))
@settings(max_examples=150)
def test_anything_that_is_logged_comes_back_from_the_journal_and_from_its_export(happenings):
    clock = iter([at for _, at in happenings])
    with Journal.in_memory(clock=lambda: next(clock)) as journal:
        logged = [journal.append(draft) for draft, _ in happenings]
        assert journal.events() == logged
        assert journal.head == head(logged)
    assert [event.at for event in logged] == [at.astimezone(UTC) for _, at in happenings]
    ids = [event.id for event in logged]
    assert ids == sorted(set(ids))
    for event, (draft, at) in zip(logged, happenings, strict=True):
        assert event.draft.value == draft.value
        assert draft.value is None or str(event.draft.value.value) == str(draft.value.value)
        assert event.offset_minutes == at.utcoffset() // timedelta(minutes=1)
    assert from_json(to_json(fold(PLAN, logged), logged)) == logged


@given(anything)
def test_no_text_reaches_a_spreadsheet_as_a_formula(text):
    event = Event("1", 1, datetime(2026, 11, 25, tzinfo=UTC), 0, "0.1.0", Draft(Kind.READING, note=text))
    from handsfree.journal import columns, event_of

    session = fold(PLAN, [event_of(columns(event))])
    (row,) = csv.DictReader(io.StringIO(to_csv(session).decode(), newline=""))
    assert not row["note"].lstrip().startswith(("=", "+", "-", "@"))
