"""A journal that isn't as it was logged is left alone, and the work goes on in another that names it."""

import sqlite3

import pytest

from handsfree.cli import main
from handsfree.journal import Draft, Heard, Journal, Kind, open_to_go_on, verify
from handsfree.length import length
from handsfree.planfile import parse_plan
from handsfree.session import fold, opening, read
from tests.support.two_rings import PLAN_TEXT


@pytest.fixture
def path(tmp_path, plan, reading, clock):
    """Ten events, and the fifth altered by hand."""
    path = tmp_path / "bench.journal"
    with Journal.open(path, clock=clock) as journal:
        journal.append(opening(plan, who="Sam"))
        first = journal.append(reading("16", heard=Heard("voice", "sixteen", sound="0" * 64)))
        journal.append(reading("17", ring="second"))
        journal.append(
            Draft(Kind.CORRECTION, "ring gaps", first.draft.position, length("16.5"), refers_to=first.id)
        )
        for value in ("18", "18.25", "18.5", "18.75", "19", "19.25"):
            journal.append(reading(value, cylinder=2))
    alter(path, 5)
    return path


def alter(path, seq):
    connection = sqlite3.connect(path, isolation_level=None)
    (guard,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'event_keeps'").fetchone()
    connection.execute("DROP TRIGGER event_keeps")
    connection.execute("UPDATE event SET value = '12' WHERE seq = ?", (seq,))
    connection.execute(guard)
    connection.close()


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_what_is_proved_is_taken_over_and_the_rest_is_told(path, tmp_path):
    before = contents(tmp_path)
    opened = open_to_go_on(path)
    with opened.journal as journal:
        assert journal.path == tmp_path / "bench-2.journal"
        events = journal.events()
    assert opened.instead
    assert opened.reports == (
        f"The journal {path} is damaged: Event 5 was altered: its content doesn't give its hash. It was left "
        "as it is.",
        "Events taken over, each proved by its hash: 9. Not taken over: 1.",
        f"Going on in {journal.path}.",
    )
    old = [event for event in Journal.open(path, read_only=True).events() if event.seq != 5]
    assert [event.draft.value for event in events] == [event.draft.value for event in old]
    assert [event.at for event in events] == [event.at for event in old]
    assert [event.draft.data["carried"]["seq"] for event in events] == [event.seq for event in old]
    assert events[0].draft.data["continues"] == "bench.journal"
    assert events[0].draft.data["continues_because"].startswith("Event 5 was altered")
    assert verify(journal.path).holds
    assert {name: held for name, held in contents(tmp_path).items() if name in before} == before


def test_a_correction_still_corrects_and_a_sound_stays_with_the_damaged_journal(path):
    with open_to_go_on(path).journal as journal:
        events = journal.events()
    session = fold(parse_plan(PLAN_TEXT), events)
    (first, corrected) = session.history("ring gaps", events[1].draft.position)
    assert (str(first.value), first.stands, str(corrected.value), corrected.stands) == (
        "16 thou",
        False,
        "16.5 thou",
        True,
    )
    assert events[1].draft.heard.sound is None
    assert events[1].draft.data["carried"]["sound"] == "0" * 64
    assert session.facts["who"] == "Sam"


def test_the_next_time_the_same_journal_is_gone_on_with(path, reading):
    with open_to_go_on(path).journal as journal:
        journal.append(reading("20"))
        count = len(journal.events())
    again = open_to_go_on(path)
    with again.journal as journal:
        assert len(journal.events()) == count
        assert journal.path.name == "bench-2.journal"
    assert len(again.reports) == 2


def test_a_second_damage_goes_on_in_a_third_journal(path, reading):
    with open_to_go_on(path).journal as journal:
        second = journal.path
        last = journal.append(reading("20"))
    alter(second, 3)
    opened = open_to_go_on(path)
    with opened.journal as journal:
        assert journal.path.name == "bench-3.journal"
        assert journal.events()[0].draft.data["continues"] == "bench-2.journal"
        assert journal.events()[-1].draft.value == last.draft.value
        assert len(journal.events()) == 9


def test_a_file_of_another_kind_in_the_way_is_left_alone(path, tmp_path, reading):
    (tmp_path / "bench-2.journal").write_bytes(b"something else")
    with Journal.open(tmp_path / "bench-3.journal") as other:
        other.append(reading("1"))
    with open_to_go_on(path).journal as journal:
        assert journal.path.name == "bench-4.journal"
    assert (tmp_path / "bench-2.journal").read_bytes() == b"something else"


def test_a_journal_of_which_nothing_can_be_read_is_named_by_the_first_event(path, tmp_path, plan):
    held = path.read_bytes()
    path.write_bytes(held[:100] + bytes(len(held) - 100))
    before = path.read_bytes()
    opened = open_to_go_on(path)
    assert "Nothing of it could be taken over." in opened.reports
    with opened.journal as journal:
        journal.append(opening(plan, **opened.facts))
    assert path.read_bytes() == before
    assert read(tmp_path / "bench-2.journal").fact("continues") == "bench.journal"


def test_unsaved_events_of_a_damaged_journal_are_taken_over_too(tmp_path, plan, reading, abandon):
    path = tmp_path / "bench.journal"
    journal = Journal.open(path)
    journal.append(opening(plan))
    journal.append(reading("16"))
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    journal.append(reading("17"))
    other.execute("ROLLBACK")
    other.close()
    kept = (tmp_path / "bench.journal.unsaved").read_bytes()
    abandon(journal)
    alter(path, 2)
    with open_to_go_on(path).journal as new:
        assert [str(event.draft.value) for event in new.events()] == ["None", "17 thou"]
    assert (tmp_path / "bench.journal.unsaved").read_bytes() == kept


def test_replay_says_what_is_wrong_and_goes_on_in_the_new_journal(path, tmp_path, capsys):
    (tmp_path / "plan.toml").write_text(PLAN_TEXT)
    (tmp_path / "more.keys").write_text("18.5 Enter\n")
    before = path.read_bytes()
    arguments = ["replay", str(tmp_path / "plan.toml"), str(tmp_path / "more.keys"), "--journal", str(path)]
    assert main([*arguments, "--no-sounds"]) == 0
    told = capsys.readouterr()
    assert f"handsfree: The journal {path} is damaged: Event 5 was altered" in told.err
    assert "Resumed." in told.out
    assert path.read_bytes() == before
    assert read(tmp_path / "bench-2.journal").events[-1].draft.kind in (Kind.READING, Kind.MOVE)
