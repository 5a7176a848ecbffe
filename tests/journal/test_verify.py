"""Tampering is found, and the event is named."""

import sqlite3

import numpy as np
import pytest

from handsfree.journal import COLUMNS, Draft, Heard, Journal, Kind, Sounds, verify
from handsfree.journal.columns import START, link

pytestmark = pytest.mark.quick


@pytest.fixture
def path(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        for value in range(1, 11):
            journal.append(reading(str(value)))
    return tmp_path / "j"


def tamper(path, *statements):
    """Change a journal as someone with a database tool would: guards off, change, guards back on."""
    connection = sqlite3.connect(path, isolation_level=None)
    guards = [row[0] for row in connection.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'")]
    for name in ("event_follows", "event_keeps", "event_stays"):
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        statement(connection) if callable(statement) else connection.execute(statement)
    for guard in guards:
        connection.execute(guard)
    connection.close()


def found(path, **options):
    return [(fault.seq, fault.sentence) for fault in verify(path, **options).faults]


def test_an_untouched_journal_holds(path):
    result = verify(path)
    assert result.holds
    assert result.events == 10
    with Journal.open(path, read_only=True) as journal:
        assert result.head == journal.head


def test_an_empty_journal_holds(tmp_path):
    Journal.open(tmp_path / "empty").close()
    assert verify(tmp_path / "empty").holds
    assert verify(tmp_path / "empty").head == START


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE event SET value = '9.0' WHERE seq = 4",
        "UPDATE event SET value = NULL WHERE seq = 4",
        "UPDATE event SET value = x'FF00' WHERE seq = 4",
        "UPDATE event SET value = CAST(x'FF' AS TEXT) WHERE seq = 4",
        "UPDATE event SET at = '2020-01-01T00:00:00.000000Z' WHERE seq = 4",
        "UPDATE event SET note = 'by hand' WHERE seq = 4",
        "UPDATE event SET kind = 'no kind' WHERE seq = 4",
        "UPDATE event SET fit = 0.0 WHERE seq = 4",
    ],
)
def test_an_altered_event_is_named(path, change):
    tamper(path, change)
    assert found(path) == [(4, "Event 4 was altered: its content doesn't give its hash.")]


@pytest.mark.parametrize("column", [name for name in COLUMNS if name != "seq"])
def test_every_column_counts(path, column):
    tamper(path, f"UPDATE event SET {column} = '7' WHERE seq = 4")  # noqa: S608
    assert [seq for seq, _ in found(path, sounds=False)] == [4]


def test_a_removed_event_is_named(path):
    tamper(path, "DELETE FROM event WHERE seq IN (5, 6)")
    assert found(path) == [(7, "Before event 7 events 5 to 6 are missing: removed.")]


def test_a_removed_first_event_is_named(path):
    tamper(path, "DELETE FROM event WHERE seq = 1")
    assert found(path) == [(2, "Before event 2 event 1 is missing: removed.")]


def test_removing_and_renumbering_is_found(path):
    tamper(path, "DELETE FROM event WHERE seq = 9", "UPDATE event SET seq = 9 WHERE seq = 10")
    sentences = dict.fromkeys(sentence for _, sentence in found(path))
    assert "Event 9 was moved: it was logged as number 10." in sentences
    assert any(sentence.startswith("Event 9 doesn't follow") for sentence in sentences)


def test_swapped_events_are_both_named(path):
    tamper(
        path,
        "UPDATE event SET seq = 100 WHERE seq = 3",
        "UPDATE event SET seq = 3 WHERE seq = 7",
        "UPDATE event SET seq = 7 WHERE seq = 100",
    )
    sentences = [sentence for _, sentence in found(path)]
    assert "Event 3 was moved: it was logged as number 7." in sentences
    assert "Event 7 was moved: it was logged as number 3." in sentences


def test_an_altered_event_with_a_new_hash_is_found_by_the_one_after_it(path):
    def rewrite(connection):
        connection.execute("UPDATE event SET value = '99' WHERE seq = 4")
        select = f"SELECT {', '.join(COLUMNS)}, previous FROM event WHERE seq = 4"  # noqa: S608
        row = connection.execute(select).fetchone()
        fresh = link(row[-1], dict(zip(COLUMNS, row, strict=False)))
        connection.execute("UPDATE event SET hash = ? WHERE seq = 4", (fresh,))

    tamper(path, rewrite)
    ((seq, sentence),) = found(path)
    assert seq == 5
    assert sentence.startswith("Event 5 doesn't follow what stands before it")


def test_a_cut_end_is_found_by_a_hash_that_was_kept_elsewhere(path):
    last = verify(path).head
    tamper(path, "DELETE FROM event WHERE seq > 8")
    ((_, sentence),) = found(path)
    assert sentence.startswith("The end was cut off: events 9 to 10 are missing, though logged.")
    path.with_name("j.newest").unlink()
    assert verify(path).holds  # the chain alone can't know
    ((_, sentence),) = found(path, expected=last)
    assert sentence.startswith(f"The hash {last} isn't in the journal")


def test_a_hash_from_an_earlier_build_sheet_is_still_in_a_longer_journal(path, reading):
    before = verify(path).head
    with Journal.open(path) as journal:
        journal.append(reading("11"))
    assert verify(path, expected=before.upper()).holds


def test_removed_guards_are_found(path):
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER event_keeps")
    connection.close()
    assert found(path) == [(None, "The guards that refuse changes (event_keeps) were removed or altered.")]


def test_a_missing_and_an_altered_sound_are_named(tmp_path):
    kept = Sounds.beside(tmp_path / "j")
    noise = np.random.default_rng(1).integers(-3000, 3000, (3, 1600), dtype=np.int16)
    names = [kept.save(samples) for samples in noise]
    with Journal.open(tmp_path / "j") as journal:
        for name in names:
            journal.append(Draft(Kind.READING, heard=Heard("voice", "eighteen", sound=name)))
    assert verify(tmp_path / "j").holds
    kept.path(names[0]).unlink()
    kept.path(names[1]).write_bytes(kept.path(names[2]).read_bytes())
    first, second = found(tmp_path / "j")
    assert first[0] == 1
    assert "is no longer in" in first[1]
    assert second[0] == 2
    assert "was altered since it was logged" in second[1]
    assert verify(tmp_path / "j", sounds=False).holds


def test_a_damaged_file_says_how_far_it_could_be_read(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        for _ in range(300):
            journal.append(reading("18", note="n" * 500))
    data = bytearray((tmp_path / "j").read_bytes())
    page = int.from_bytes(data[16:18], "big")
    for start in range(40 * page, 60 * page):
        data[start] = 0xAA
    (tmp_path / "j").write_bytes(data)
    sentences = [sentence for _, sentence in found(tmp_path / "j")]
    assert any(sentence.startswith("The file is damaged after event") for sentence in sentences)


def test_a_file_of_which_nothing_can_be_read_says_so(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        journal.append(reading("18"))
    whole = (tmp_path / "j").read_bytes()
    (tmp_path / "torn").write_bytes(whole[: len(whole) // 2 + 100])
    found = verify(tmp_path / "torn")
    assert not found.holds
    (fault,) = found.faults
    assert fault.sentence.startswith("The file is damaged from its start (")
