"""The journal's file: what goes in comes out, in order, and nothing that is in can be changed."""

import sqlite3
import threading
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest

import handsfree
from handsfree.errors import JournalError
from handsfree.journal import Draft, Heard, Journal, Kind, LeafSide, head
from handsfree.journal.columns import START
from handsfree.length import Length, Unit, length
from handsfree.plan import Position

pytestmark = pytest.mark.quick

FULL = Draft(
    Kind.CORRECTION,
    check="ring gaps",
    position=Position.of({"cylinder": "3", "ring": "top"}),
    value=length("18.50"),
    bound=LeafSide.UNDER,
    other=Length(Decimal("0.4500"), Unit.MM),
    feel="drag",
    refers_to="01900000-0000-7000-8000-000000000001",
    verdict="short",
    remaining=Length(Decimal("1E+1"), Unit.MICRON),
    heard=Heard("voice", "correction, eighteen", "phrase", -0.125, 7.5, "eighty", "bench.wav 12.3", "a.flac"),
    note='a "quoted" note,\nover two lines, with \u2067right to left\u2069 and \'; DROP TABLE event; --',
    data={"candidates": ["18", "80"], "deep": {"yes": True, "n": None, "x": 0.1}},
)


def test_every_field_comes_back_as_it_went_in(tmp_path):
    with Journal.open(tmp_path / "j") as journal:
        logged = journal.append(FULL)
        assert logged.draft == FULL
    with Journal.open(tmp_path / "j") as journal:
        (again,) = journal.events()
    assert again == logged
    assert str(again.draft.value.value) == "18.50"
    assert str(again.draft.other) == "0.4500 mm"
    assert str(again.draft.remaining.value) == "1E+1"


def test_an_event_gets_number_time_in_utc_local_offset_and_program_version():
    noon_in_nepal = datetime(2026, 11, 25, 12, 0, tzinfo=timezone(timedelta(hours=5, minutes=45)))
    journal = Journal.in_memory(clock=lambda: noon_in_nepal)
    event = journal.append(Draft(Kind.OPENED))
    assert event.seq == 1
    assert event.at == datetime(2026, 11, 25, 6, 15, tzinfo=UTC)
    assert event.at.utcoffset() == timedelta(0)
    assert event.offset_minutes == 345
    assert event.program == handsfree.__version__


def test_ids_sort_by_number_even_if_the_clock_goes_back_and_the_journal_is_opened_again(tmp_path):
    times = [datetime(2026, 11, 25, 9, tzinfo=UTC) - timedelta(hours=hour) for hour in range(6)]
    clock = iter(times).__next__
    with Journal.open(tmp_path / "j", clock=clock) as journal:
        ids = [journal.append(Draft(Kind.STAND_BY)).id for _ in range(3)]
    with Journal.open(tmp_path / "j", clock=clock) as journal:
        ids += [journal.append(Draft(Kind.GO_AHEAD)).id for _ in range(3)]
        assert [event.at for event in journal.events()] == times
    assert ids == sorted(ids)
    assert len(set(ids)) == 6


def test_an_event_is_on_disk_when_append_returns(tmp_path, reading):
    journal = Journal.open(tmp_path / "j")
    event = journal.append(reading("18"))
    with Journal.open(tmp_path / "j", read_only=True) as other:  # the writer is still open
        assert other.events() == [event]
    settings = {
        name: journal._connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous")
    }
    assert settings == {"journal_mode": "wal", "synchronous": 2}  # 2 is FULL
    journal.close()


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE event SET value = '19' WHERE seq = 1",
        "DELETE FROM event WHERE seq = 2",
        "INSERT OR REPLACE INTO event SELECT * FROM event WHERE seq = 1",
        "INSERT INTO event (seq, id, kind, at, offset_minutes, program, previous, hash)"
        " SELECT 5, 'new', kind, at, offset_minutes, program, previous, hash FROM event WHERE seq = 1",
    ],
)
def test_a_logged_event_cannot_be_changed_removed_replaced_or_followed_by_a_stranger(
    tmp_path, reading, change
):
    with Journal.open(tmp_path / "j") as journal:
        before = [journal.append(reading("18")), journal.append(reading("19"))]
    with (
        sqlite3.connect(tmp_path / "j") as connection,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        connection.execute(change)
    connection.close()
    with Journal.open(tmp_path / "j") as journal:
        assert journal.events() == before


def test_a_person_can_query_it_in_plain_sql(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        first = journal.append(reading("17.50", verdict="short"))
        journal.append(Draft(Kind.CORRECTION, value=length("18"), refers_to=first.id, check="ring gaps"))
        gone = journal.append(reading("30", 2))
        journal.append(Draft(Kind.VOID, refers_to=gone.id))
    connection = sqlite3.connect(tmp_path / "j")
    rows = connection.execute("SELECT seq, position, value, unit, verdict, state FROM reading").fetchall()
    connection.close()
    assert rows == [
        (1, "cylinder 1, ring top", "17.50", "thou", "short", "corrected"),
        (2, None, "18", "thou", None, "stands"),
        (3, "cylinder 2, ring top", "30", "thou", None, "voided"),
    ]


def test_the_head_is_the_hash_of_all_events_in_order(journal, reading):
    assert journal.head == START
    journal.append(reading("18"))
    one = journal.head
    journal.append(FULL)
    assert len({START, one, journal.head}) == 3
    assert journal.head == head(journal.events())


def test_odd_values_are_made_fit_to_store_and_come_back_as_they_were_returned(journal):
    odd = Draft(
        Kind.ASKED,
        heard=Heard("voice", "caf\u00e9 \udc80", fit=float("nan"), margin=float("inf"), origin="nul\0byte"),
        data={"amount": Decimal("18.50"), "pair": (1, 2), 3: float("inf")},
    )
    event = journal.append(odd)
    assert event.draft.heard == Heard("voice", "caf\u00e9 \\udc80", origin="nul\\x00byte")
    assert event.draft.data == {"amount": "18.50", "pair": [1, 2], "3": None}
    assert journal.events() == [event]


def test_minus_zero_and_whole_floats_give_the_same_hash_when_read_back(journal):
    journal.append(Draft(Kind.READING, heard=Heard("voice", "x", fit=-0.0, margin=7)))
    assert head(journal.events()) == journal.head


@pytest.mark.parametrize("value", ["NaN", "Infinity", "sNaN"])
def test_a_measurement_that_is_no_number_is_refused(journal, value):
    with pytest.raises(JournalError, match="isn't a number"):
        journal.append(Draft(Kind.READING, value=length(value)))
    assert journal.events() == []
    assert journal.append(Draft(Kind.FINISHED)).seq == 1


def test_threads_share_a_journal_without_losing_or_doubling_an_event(journal):
    def work(name: str) -> None:
        for number in range(25):
            journal.append(Draft(Kind.STAND_BY, note=f"{name} {number}"))

    threads = [threading.Thread(target=work, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    events = journal.events()
    assert [event.seq for event in events] == list(range(1, 101))
    assert {event.draft.note for event in events} == {
        f"{name} {number}" for name in "abcd" for number in range(25)
    }


def test_an_older_program_that_knows_no_lock_takes_turns_in_one_chain(tmp_path, reading, abandon):
    one = Journal.open(tmp_path / "j")
    abandon(one)
    two = Journal.open(tmp_path / "j")
    logged = [one.append(reading("1")), two.append(reading("2")), one.append(reading("3"))]
    assert [event.seq for event in logged] == [1, 2, 3]
    assert one.events() == two.events() == logged
    assert one.head == head(logged)
    one.close()
    two.close()


def test_a_closed_journal_says_so(tmp_path):
    journal = Journal.open(tmp_path / "j")
    journal.close()
    journal.close()
    for use in (lambda: journal.append(Draft(Kind.FINISHED)), journal.events):
        with pytest.raises(JournalError, match="closed"):
            use()


def test_reading_only_neither_writes_nor_makes_a_file(tmp_path, reading):
    with pytest.raises(JournalError, match="There is no journal"):
        Journal.open(tmp_path / "j", read_only=True)
    assert list(tmp_path.iterdir()) == []
    Journal.open(tmp_path / "j").close()
    with (
        Journal.open(tmp_path / "j", read_only=True) as journal,
        pytest.raises(JournalError, match="reading only"),
    ):
        journal.append(reading("18"))
