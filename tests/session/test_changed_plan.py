"""A journal whose plan was edited says what differs; going on is an event, and so is each new verdict."""

import pytest

from handsfree.bench import Bench
from handsfree.cli import main
from handsfree.errors import JournalError
from handsfree.export import to_json
from handsfree.export.csv_json import from_json
from handsfree.journal import Journal, Kind, verify
from handsfree.plan import Position
from handsfree.planfile import parse_plan
from handsfree.session import ChangedPlan, read, results
from tests.support.two_rings import PLAN_TEXT

TARGET = 'aim = "18 thou"'
EDITED = PLAN_TEXT.replace(TARGET, 'aim = "20 thou"')


@pytest.fixture
def path(tmp_path, plan, clock):
    """Three gaps: good, good and short under the plan as it was."""
    with Journal.open(tmp_path / "j", clock=clock) as journal:
        bench = Bench(plan, journal)
        bench.open(who="Sam")
        for keys in ("18", "19.5", "15"):
            bench.key(keys)
    return tmp_path / "j"


def verdicts(session):
    return [result.verdict for result in results(session) if result.verdict]


def test_it_is_refused_with_what_differs_and_what_can_be_done(path):
    with Journal.open(path) as journal:
        count = len(journal.events())
        with pytest.raises(JournalError) as caught:
            Bench(parse_plan(EDITED), journal).open()
        assert len(journal.events()) == count
    assert 'The journal belongs to the plan "Two rings" as it was when it was opened' in str(caught.value)
    assert "everywhere: 18 thou (from 18 thou to 19.5 thou), now 20 thou" in str(caught.value)
    assert "--changed-plan keep" in str(caught.value)


def test_going_on_is_an_event_and_keeps_verdicts_as_they_were_given(path):
    with Journal.open(path) as journal:
        bench = Bench(parse_plan(EDITED), journal)
        exchange = bench.open(ChangedPlan.KEEP, who="Kim")
        assert [event.kind for event in exchange.events] == [Kind.PLAN, Kind.RESUMED]
        changed = exchange.events[0].draft
        assert changed.data["plan"] == EDITED
        assert changed.data["verdicts"] == "keep"
        assert "now 20 thou" in changed.data["changes"][0]
        assert exchange.reply.text.startswith("The plan was changed: the target of ring gaps, everywhere")
        assert exchange.reply.aloud.startswith("The plan was changed. The screen says how.")
        assert verdicts(bench.session) == ["good", "good", "short"]
        assert bench.key("18").reply.text.startswith("One second, eighteen. File two")
        assert bench.session.facts["who"] == "Sam"


def test_what_stands_is_judged_anew_by_corrections_and_nothing_is_lost(path, at):
    with Journal.open(path) as journal:
        before = journal.events()
        bench = Bench(parse_plan(EDITED), journal)
        exchange = bench.open(ChangedPlan.JUDGE)
        assert journal.events()[: len(before)] == before
        assert bench.session.position == at(1, "second")  # as it was in hand
        session = bench.session
    made = [event.draft for event in exchange.events if event.kind is Kind.CORRECTION]
    assert [(draft.position, str(draft.value), draft.verdict, str(draft.remaining)) for draft in made] == [
        (at(1), "18 thou", "short", "2 thou"),
        (at(2), "19.5 thou", "short", "0.5 thou"),
        (at(1, "second"), "15 thou", "short", "5 thou"),
    ]
    assert {draft.note for draft in made} == {"judged anew under the changed plan"}
    assert verdicts(session) == ["short", "short", "short"]
    assert [(entry.value, entry.event.draft.verdict) for entry in session.history("ring gaps", at(1))] == [
        (made[0].value, "good"),
        (made[0].value, "short"),
    ]
    assert "Judged anew: cylinder 1, ring top 18 thou: short;" in exchange.reply.text
    assert verify(path).holds


def test_a_reading_whose_verdict_stays_is_not_touched(path, at):
    edited = PLAN_TEXT.replace('plus = "1.5 thou"', 'plus = "1 thou"')  # 19.5 is over now
    with Journal.open(path) as journal:
        exchange = Bench(parse_plan(edited), journal).open(ChangedPlan.JUDGE)
    made = [event.draft for event in exchange.events if event.kind is Kind.CORRECTION]
    assert [(draft.position, draft.verdict) for draft in made] == [(at(2), "over")]


def test_afterwards_the_journal_goes_by_the_new_plan(path):
    with Journal.open(path) as journal:
        Bench(parse_plan(EDITED), journal).open(ChangedPlan.JUDGE)
    recorded = read(path)
    assert recorded.session.plan.text == EDITED
    assert verdicts(recorded.session) == ["short", "short", "short"]
    assert from_json(to_json(recorded.session, recorded.events)) == list(recorded.events)
    with Journal.open(path) as journal:
        assert [event.kind for event in Bench(parse_plan(EDITED), journal).open().events] == [Kind.RESUMED]
        with pytest.raises(JournalError, match="now 18 thou"):
            Bench(parse_plan(PLAN_TEXT), journal).open()
        Bench(parse_plan(PLAN_TEXT), journal).open(ChangedPlan.JUDGE)
    assert verdicts(read(path).session) == ["good", "good", "short"]


def test_nothing_is_logged_of_a_plan_that_is_the_same(path, plan):
    with Journal.open(path) as journal:
        assert [event.kind for event in Bench(plan, journal).open(ChangedPlan.JUDGE).events] == [Kind.RESUMED]


def test_a_place_that_the_new_plan_lacks_keeps_its_readings_and_is_left(path, at):
    edited = PLAN_TEXT.replace('ring = ["top", "second"]', 'ring = ["top"]')
    with Journal.open(path) as journal:
        bench = Bench(parse_plan(edited), journal)
        bench.open(ChangedPlan.JUDGE)
        assert bench.session.position == Position.of({"cylinder": "1", "ring": "top"})
        assert len(bench.session.history("ring gaps", at(1, "second"))) == 1


def test_replay_goes_on_when_told_so(path, tmp_path, capsys):
    (tmp_path / "plan.toml").write_text(EDITED)
    (tmp_path / "more.keys").write_text("20 Enter\n")
    arguments = ["replay", str(tmp_path / "plan.toml"), str(tmp_path / "more.keys"), "--journal", str(path)]
    assert main(arguments) == 2
    assert "differs from it: the target of ring gaps, everywhere" in capsys.readouterr().err
    assert main([*arguments, "--changed-plan", "judge"]) == 0
    assert "The plan was changed: the target of ring gaps" in capsys.readouterr().out
    assert Kind.PLAN in [event.kind for event in read(path).events]
