"""Sharing with a real PostgreSQL server, started here: Debian's package `postgresql`."""

import io
import itertools
import logging
import multiprocessing
import random
import sqlite3
import threading
import time
from unittest import mock
from urllib.parse import quote

import psycopg
import pytest
from rich.console import Console

from handsfree.commands.share import share_journals
from handsfree.errors import JournalError, ShareError
from handsfree.journal import Draft, Journal, Kind, Shop, address, share
from handsfree.session import Fate, fold
from tests.support import journals, postgres

pytestmark = pytest.mark.skipif(
    postgres.programs() is None, reason="PostgreSQL isn't installed (Debian: postgresql)"
)


@pytest.fixture(scope="module")
def server():
    running = postgres.Server()
    yield running
    running.close()


@pytest.fixture
def database(server):
    """Give the address of a fresh database."""
    name = f"shop{time.monotonic_ns()}"
    with psycopg.connect(server.address(), autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    return server.address(name)


@pytest.fixture
def shop(database):
    opened = Shop(database, patience_s=20)
    yield opened
    opened.close()


def query(database, statement, *values):
    with psycopg.connect(database) as connection:
        return connection.execute(statement, values).fetchall()


def grow(path, count, seed=1):
    """Log thousands of events at once; nobody measured them, so the disk isn't waited for at each."""
    with (
        Journal.open(path, clock=journals.clock(seed)) as journal,
        mock.patch("handsfree.journal.beside._force"),
    ):
        journal._connection.execute("PRAGMA synchronous = OFF")
        for number in range(count):
            journal.append(Draft(Kind.STAND_BY, note=f"{seed} {number}"))


def test_everything_arrives_word_for_word(tmp_path, database, shop):
    events = journals.story_at(tmp_path / "a.journal")
    outcome = shop.share(tmp_path / "a.journal", station="bench one")
    assert (outcome.sent, outcome.total) == (len(events), len(events))
    local = sqlite3.connect(tmp_path / "a.journal")
    columns = [row[1] for row in local.execute("PRAGMA table_info(event)")]
    names = ", ".join(columns)
    ours = local.execute(f"SELECT {names} FROM event ORDER BY seq").fetchall()  # noqa: S608
    local.close()
    assert query(database, f"SELECT {names} FROM handsfree.event ORDER BY seq") == ours  # noqa: S608
    assert shop.differing() == []


def test_sharing_again_sends_nothing_and_later_only_what_is_new(tmp_path, database, shop):
    journals.story_at(tmp_path / "a.journal")
    first = shop.share(tmp_path / "a.journal", station="one")
    assert shop.share(tmp_path / "a.journal", station="one").sent == 0
    grow(tmp_path / "a.journal", 3)
    again = shop.share(tmp_path / "a.journal", station="one")
    assert (again.sent, again.total) == (3, first.total + 3)
    assert query(database, "SELECT count(*), count(DISTINCT id) FROM handsfree.event") == [(again.total,) * 2]


def test_a_journal_in_use_can_be_shared_and_is_not_touched(tmp_path, shop, monkeypatch):
    monkeypatch.setattr("handsfree.journal.store.QUIET_S", 600)  # its own program changes nothing now
    monkeypatch.setattr("handsfree.journal.store.AT_LATEST_S", 600)
    journal = Journal.open(tmp_path / "j", clock=journals.clock())
    journals.log_story(journal, journals.plan())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if not path.name.endswith("-shm")}
    assert shop.share(tmp_path / "j", station="one").sent == 35
    assert {name: (tmp_path / name).read_bytes() for name in before} == before
    assert journal.append(Draft(Kind.STAND_BY)).seq == 36
    journal.close()


def test_the_views_say_what_the_session_says(tmp_path, database, shop):
    plan = journals.plan()
    events = journals.story_at(tmp_path / "a.journal")
    session = fold(plan, events)
    shop.share(tmp_path / "a.journal", station="one")
    states = dict(query(database, "SELECT id, state FROM handsfree.readings"))
    assert states == {entry.event.id: entry.state.value for entry in session.log()}
    current = {
        (check, position): (value, verdict)
        for check, position, value, verdict in query(
            database, "SELECT check_name, position, value, verdict FROM handsfree.current_verdicts"
        )
    }
    ours = {}
    for check, position in session.entries:
        entry = session.current(check, position)
        value = None if entry.value is None else entry.value.value
        ours[check, position.key] = (value, entry.event.draft.verdict)
    assert current == ours
    ((engine, name, bench, who, count, finished, head),) = query(
        database, "SELECT engine, plan, bench, who, events, finished, hash FROM handsfree.sessions"
    )
    assert (engine, name, bench, who) == ("Bench twin", "Ring gaps of a twin", "one", "J. Marten")
    assert (count, finished) == (len(events), True)
    with Journal.open(tmp_path / "a.journal", read_only=True) as journal:
        assert head == journal.head


@pytest.mark.parametrize("seed", range(4))
def test_the_views_follow_the_fold_through_any_corrections_and_voids(tmp_path, database, shop, seed):
    dice = random.Random(seed)
    plan = journals.plan(2)
    with Journal.open(tmp_path / "j", clock=journals.clock(seed)) as journal:
        from handsfree.length import length
        from handsfree.session import opening

        journal.append(opening(plan))
        ids = ["01900000-0000-7000-8000-000000000000"]
        for number in range(60):
            kind = dice.choice([Kind.READING, Kind.READING, Kind.CORRECTION, Kind.VOID])
            place = dice.choice(plan.checks[0].positions)
            if kind is Kind.VOID:
                journal.append(Draft(kind, refers_to=dice.choice(ids)))
                continue
            named = kind is Kind.READING or dice.random() < 0.3
            drafted = Draft(
                kind,
                "ring gaps" if named else None,
                place if named else None,
                length(str(number)),
                refers_to=dice.choice(ids) if kind is Kind.CORRECTION else None,
            )
            unknown = drafted.refers_to == ids[0]
            if unknown and not named:
                continue  # a bare reading belongs to the position in hand, which only the fold knows
            ids.append(journal.append(drafted).id)
        events = journal.events()
    session = fold(plan, events)
    shop.share(tmp_path / "j", station="one")
    states = dict(query(database, "SELECT id, state FROM handsfree.readings"))
    assert states == {entry.event.id: entry.state.value for entry in session.log()}
    assert Fate.CORRECTED.value in states.values()
    rows = query(database, "SELECT check_name, position, value FROM handsfree.current_verdicts")
    ours = {
        (check, position.key): entry.value.value
        for check, position in session.entries
        if (entry := session.current(check, position)) is not None
    }
    assert {(check, position): value for check, position, value in rows} == ours


def test_decimals_are_numbers_there_with_the_digits_that_were_said(tmp_path, database, shop):
    journals.story_at(tmp_path / "a.journal")
    shop.share(tmp_path / "a.journal", station="one")
    ((value,),) = query(database, "SELECT value FROM handsfree.readings ORDER BY seq LIMIT 1")
    assert str(value) == "14.50"
    ((average,),) = query(
        database, "SELECT avg(value) FROM handsfree.current_verdicts WHERE verdict = 'good' AND unit = 'thou'"
    )
    assert float(average) == pytest.approx((18 + 4 * 18.25) / 5)


def test_ten_benches_at_once_with_journals_of_their_own_and_one_in_common(tmp_path, database):
    """Ten processes, all making the tables at the same time, each sharing twice."""
    common = tmp_path / "common"
    journals.story_at(common)
    grow(common, 2500)
    for number in range(10):
        grow(tmp_path / f"bench{number}", 120, seed=number)
    fork = multiprocessing.get_context("spawn")
    files = {n: [tmp_path / f"bench{n}", common, tmp_path / f"bench{n}"] for n in range(10)}
    benches = [
        fork.Process(target=postgres.share_many, args=(database, files[n], f"bench {n}")) for n in range(10)
    ]
    for bench in benches:
        bench.start()
    for bench in benches:
        bench.join(120)
    assert [bench.exitcode for bench in benches] == [0] * 10
    counts = dict(query(database, "SELECT file, events FROM handsfree.sessions"))
    assert counts == {"common": 35 + 2500, **{f"bench{n}": 120 for n in range(10)}}
    assert query(database, "SELECT count(*) FROM handsfree.form") == [(1,)]
    checked = Shop(database)
    assert checked.differing() == []
    checked.close()


def test_two_benches_write_while_they_share(tmp_path, database):
    stop = threading.Event()
    logged = {"a": 0, "b": 0}

    def work(name, seed):
        journal = Journal.open(tmp_path / name, clock=journals.clock(seed))
        for number in itertools.count():
            if stop.is_set():
                break
            logged[name] = number
            journal.append(Draft(Kind.STAND_BY, note=str(number)))
        journal.close()

    def send(name):
        own = Shop(database, patience_s=30)
        while not stop.is_set():
            own.share(tmp_path / name, station=name)
        own.close()

    threads = [threading.Thread(target=work, args=(name, seed)) for seed, name in enumerate("ab")]
    for thread in threads:
        thread.start()
    time.sleep(0.3)
    threads += [threading.Thread(target=send, args=(name,)) for name in "ab"]
    for thread in threads[2:]:
        thread.start()
    time.sleep(2)
    until = time.monotonic() + 60
    while min(logged.values()) <= 20 and time.monotonic() < until:
        time.sleep(0.05)
    stop.set()
    for thread in threads:
        thread.join()
    last = Shop(database)
    totals = {name: last.share(tmp_path / name, station=name).total for name in "ab"}
    assert dict(query(database, "SELECT file, events FROM handsfree.sessions")) == totals
    assert min(totals.values()) > 20
    assert last.differing() == []
    last.close()


@pytest.mark.parametrize("how", ["fast", "immediate"])
def test_a_server_that_dies_in_the_middle_costs_nothing(tmp_path, server, database, how):
    """The server goes down after the second batch; the same run waits for it and goes on."""
    grow(tmp_path / "j", 5321)
    batches = []
    waits = []

    def sleep(seconds):
        waits.append(seconds)
        if len(waits) == 2:
            server.start()

    shop = Shop(database, patience_s=60, sleep=sleep)
    send = shop._send

    def killing(facts, rows, known):
        if len(batches) == 2 and not waits:
            server.stop(how)
        batches.append(1)
        return send(facts, rows, known)

    shop._send = killing
    outcome = shop.share(tmp_path / "j", station="one")
    shop.close()
    assert (outcome.sent, outcome.total) == (5321, 5321)
    assert len(waits) >= 2
    assert query(database, "SELECT count(*), count(DISTINCT id), max(seq) FROM handsfree.event") == [
        (5321,) * 3
    ]
    checked = Shop(database)
    assert checked.differing() == []
    checked.close()


def test_a_connection_cut_after_the_server_has_committed_doubles_nothing(tmp_path, database):
    """The bench never learns that its batch arrived, and sends again."""
    grow(tmp_path / "j", 1500)
    shop = Shop(database, patience_s=30, sleep=lambda _: None)
    send = shop._send
    cut = []

    def unheard(facts, rows, known):
        done = send(facts, rows, known)
        if not cut:
            cut.append(done)
            from sqlalchemy.exc import OperationalError

            raise OperationalError("", {}, psycopg.OperationalError("server closed the connection"), True)
        return done

    shop._send = unheard
    shop.share(tmp_path / "j", station="one")
    shop.close()
    assert [one.added for one in cut] == [1500]
    assert query(database, "SELECT count(*), count(DISTINCT id) FROM handsfree.event") == [(1500, 1500)]


def test_a_bench_killed_in_the_middle_goes_on_next_time(tmp_path, database):
    grow(tmp_path / "j", 3000)
    fork = multiprocessing.get_context("spawn")
    for _ in range(3):
        bench = fork.Process(target=postgres.share_many, args=(database, [tmp_path / "j"], "one"))
        bench.start()
        time.sleep(random.Random(1).uniform(0.5, 1.5))
        bench.kill()
        bench.join()
    postgres.share_many(database, [tmp_path / "j"], "one")
    assert query(database, "SELECT count(*), count(DISTINCT id) FROM handsfree.event") == [(3000, 3000)]


def test_a_server_that_stays_away_says_so_and_leaves_the_journal_alone(tmp_path, server, database):
    journals.story_at(tmp_path / "j")
    before = (tmp_path / "j").read_bytes()
    shop = Shop(database, patience_s=1, sleep=lambda _: None)
    server.stop()
    try:
        (outcome,) = share(shop, [tmp_path / "j"], station="one")
    finally:
        server.start()
    shop.close()
    assert "can't be reached" in outcome.trouble
    assert "the next run goes on from there" in outcome.trouble
    assert (tmp_path / "j").read_bytes() == before


# -- tampering ------------------------------------------------------------------------------------


def test_the_shops_rows_cannot_be_changed_or_removed(tmp_path, database, shop):
    journals.story_at(tmp_path / "a.journal")
    shop.share(tmp_path / "a.journal", station="one")
    for change in (
        "UPDATE handsfree.event SET value = '1'",
        "DELETE FROM handsfree.event",
        "TRUNCATE handsfree.event",
    ):
        with (
            psycopg.connect(database) as connection,
            pytest.raises(psycopg.errors.RaiseException, match="append-only"),
        ):
            connection.execute(change)


def tamper(database, *changes):
    with psycopg.connect(database) as connection:
        connection.execute("ALTER TABLE handsfree.event DISABLE TRIGGER USER")
        for change in changes:
            connection.execute(change)
        connection.execute("ALTER TABLE handsfree.event ENABLE TRIGGER USER")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ("UPDATE handsfree.event SET value = '18.9' WHERE seq = 4", "Event 4 was altered"),
        ("DELETE FROM handsfree.event WHERE seq = 4", "event 4 is missing"),
        ("UPDATE handsfree.event SET hash = repeat('0', 64) WHERE seq = 4", "Event 4 was altered"),
    ],
)
def test_a_row_that_was_tampered_with_in_the_shop_is_named(tmp_path, database, shop, change, sentence):
    journals.story_at(tmp_path / "a.journal")
    shop.share(tmp_path / "a.journal", station="one")
    tamper(database, change)
    (found,) = shop.differing()
    assert "The shop's copy of a.journal" in found
    assert sentence in found


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ("DELETE FROM handsfree.event WHERE seq = 4", "it holds 34 events, numbered 1 to 35"),
        (
            "UPDATE handsfree.event SET hash = repeat('0', 64) WHERE seq = 4",
            "aren't the same as the first 35",
        ),
    ],
)
def test_a_copy_that_is_not_the_journals_beginning_stops_sharing(tmp_path, database, shop, change, sentence):
    journals.story_at(tmp_path / "a.journal")
    shop.share(tmp_path / "a.journal", station="one")
    tamper(database, change)
    grow(tmp_path / "a.journal", 2)
    (outcome,) = share(shop, [tmp_path / "a.journal"], station="one")
    assert sentence in outcome.trouble
    assert "nothing was sent" in outcome.trouble
    assert query(database, "SELECT max(seq) FROM handsfree.event") == [(35,)]


def test_an_altered_journal_is_not_shared_and_the_others_are(tmp_path, database, shop):
    for name in ("bad", "good"):
        journals.story_at(tmp_path / name, seed=len(name))
    connection = sqlite3.connect(tmp_path / "bad")
    connection.execute("DROP TRIGGER event_keeps")
    connection.execute("UPDATE event SET value = '18.9' WHERE seq = 4")
    connection.commit()
    connection.close()
    bad, good = share(shop, [tmp_path / "bad", tmp_path / "good"], station="one")
    assert "isn't as it was logged: Event 4 was altered" in bad.trouble
    assert (good.sent, good.trouble) == (35, None)
    assert query(database, "SELECT file FROM handsfree.sessions") == [("good",)]
    with pytest.raises(JournalError):
        shop.share(tmp_path / "bad", station="one")


def test_an_old_copy_of_a_journal_is_refused_once_the_shop_has_more(tmp_path, shop):
    journals.story_at(tmp_path / "a.journal")
    old = (tmp_path / "a.journal").read_bytes()
    grow(tmp_path / "a.journal", 5)
    shop.share(tmp_path / "a.journal", station="one")
    (tmp_path / "old").write_bytes(old)
    with pytest.raises(ShareError, match="it holds 40 events and the journal only 35"):
        shop.share(tmp_path / "old", station="one")


# -- addresses and secrets ------------------------------------------------------------------------


def test_the_address_comes_from_the_environment_by_the_shops_name():
    environment = {"HANDSFREE_SHARE": "one", "HANDSFREE_SHARE_BARN": "two"}
    assert address(None, environment) == "one"
    assert address("barn", environment) == "two"
    with pytest.raises(ShareError, match="set HANDSFREE_SHARE_YARD in the environment"):
        address("yard", environment)


@pytest.mark.parametrize("given", ["postgresql://u:hunter2@h/d", "u:hunter2@h", "../x", "", "1"])
def test_an_address_on_the_command_line_is_refused_without_repeating_it(given):
    with pytest.raises(ShareError) as caught:
        address(given, {})
    assert "hunter2" not in str(caught.value)
    assert "environment" in str(caught.value)


@pytest.mark.parametrize(
    "given", ["mysql://u:hunter2@h/d", "sqlite:////tmp/x", "hunter2", "postgresql://u:hunter2@h:x/"]
)
def test_what_is_no_postgresql_address_is_refused_without_repeating_it(given):
    with pytest.raises(ShareError, match="isn't one of PostgreSQL") as caught:
        Shop(given)
    assert "hunter2" not in str(caught.value)


@pytest.mark.parametrize("wrong", ["password", "database", "port"])
def test_no_password_is_ever_printed_or_logged(tmp_path, server, wrong, caplog, capsys):
    journals.story_at(tmp_path / "j")
    secret = "hunter2&more" if wrong == "password" else postgres.PASSWORD
    where = server.address("nowhere" if wrong == "database" else "postgres", secret)
    if wrong == "port":
        where = where.replace(f":{server.port}/", ":1/")
    shop = Shop(where, patience_s=0, sleep=lambda _: None)
    with caplog.at_level(logging.DEBUG):
        (outcome,) = share(shop, [tmp_path / "j"], station="one")
    shop.close()
    assert outcome.trouble
    said = outcome.trouble + caplog.text + "".join(capsys.readouterr()) + repr(shop) + shop.name
    assert secret not in said
    assert "hunter2" not in said
    assert f"127.0.0.1:{1 if wrong == 'port' else server.port}" in outcome.trouble


def test_a_wrong_password_is_not_tried_again_and_again(tmp_path, server):
    journals.story_at(tmp_path / "j")
    waits = []
    shop = Shop(server.address("postgres", "wrong"), patience_s=60, sleep=waits.append)
    with pytest.raises(ShareError, match="refuses"):
        shop.share(tmp_path / "j", station="one")
    shop.close()
    assert waits == []


def test_a_shop_set_up_by_a_newer_version_is_left_alone(tmp_path, database, shop):
    journals.story_at(tmp_path / "j")
    with psycopg.connect(database) as connection:
        connection.execute("CREATE SCHEMA handsfree")
        connection.execute("CREATE TABLE handsfree.form (version integer)")
        connection.execute("INSERT INTO handsfree.form VALUES (9)")
    with pytest.raises(ShareError, match="set up by a newer handsfree"):
        shop.share(tmp_path / "j", station="one")


def test_hostile_text_is_only_text(tmp_path, database, shop):
    with Journal.open(tmp_path / "j'; DROP TABLE x; --") as journal:
        from handsfree.session import opening

        journal.append(opening(journals.plan(), who=journals.HOSTILE + "\0\udc80"))
        journal.append(Draft(Kind.ASKED, note="x" * 10_000 + journals.HOSTILE, data={"a\0": "\0"}))
    (outcome,) = share(shop, [tmp_path / "j'; DROP TABLE x; --"], station=journals.HOSTILE)
    assert outcome.trouble is None
    assert shop.differing() == []
    ((bench, who),) = query(database, "SELECT bench, who FROM handsfree.sessions")
    assert bench == journals.HOSTILE
    assert who == journals.HOSTILE + "\\x00\\udc80"


def test_the_command_shares_a_folder_and_checks_the_shop(tmp_path, database):
    console = Console(file=io.StringIO(), width=200)
    journals.story_at(tmp_path / "a.journal")
    Journal.open(tmp_path / "empty").close()
    told = {"environment": {"HANDSFREE_SHARE_BARN": database}, "check": True, "bench": "one"}
    assert share_journals("barn", [tmp_path], console, **told) == 0
    assert share_journals("barn", [tmp_path], console, **told) == 0
    tamper(database, "UPDATE handsfree.event SET value = '18.9' WHERE seq = 4")
    assert share_journals("barn", [tmp_path], console, **told) == 1
    said = console.file.getvalue().splitlines()
    assert said[0] == "a.journal: 35 events sent, 35 are there now"
    assert said[1] == "empty: nothing was logged in it"
    assert said[2].endswith("holds is as it was logged.")
    assert said[3] == "a.journal: all 35 events were there already"
    assert "Event 4 was altered" in said[-1]
    assert postgres.PASSWORD not in console.file.getvalue()


def test_a_role_that_may_only_add_can_share_once_the_tables_are_there(tmp_path, server, database, shop):
    """The rights are those that docs/records.md names."""
    journals.story_at(tmp_path / "a")
    shop.share(tmp_path / "a", station="one")
    name = f"adder{time.monotonic_ns()}"
    with psycopg.connect(database) as connection:
        connection.execute(f"CREATE ROLE {name} LOGIN PASSWORD 'x'")
        connection.execute(f"GRANT USAGE ON SCHEMA handsfree TO {name}")
        connection.execute(f"GRANT SELECT, INSERT ON handsfree.journal, handsfree.event TO {name}")
        connection.execute(f"GRANT SELECT ON handsfree.form TO {name}")
    journals.story_at(tmp_path / "b", seed=2)
    grow(tmp_path / "a", 1)
    limited = database.replace(f"{postgres.USER}:{quote(postgres.PASSWORD, safe='')}", f"{name}:x")
    adder = Shop(limited)
    outcomes = share(adder, [tmp_path / "a", tmp_path / "b"], station="two")
    assert [(one.sent, one.trouble) for one in outcomes] == [(1, None), (35, None)]
    assert adder.differing() == []
    adder.close()
    refused = pytest.raises(psycopg.errors.InsufficientPrivilege)
    with psycopg.connect(limited) as connection, refused:
        connection.execute("ALTER TABLE handsfree.event DISABLE TRIGGER USER")
