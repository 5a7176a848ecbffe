"""What a plan and its events come to."""

from decimal import Decimal

import pytest

from handsfree.errors import JournalError
from handsfree.journal import Draft, Kind
from handsfree.length import length
from handsfree.plan import Position
from handsfree.session import Fate, check_same_plan, fold, opening, step
from handsfree.session.fold import extend, start
from handsfree.session.session import plan_text

pytestmark = pytest.mark.quick

GAPS = "ring gaps"


def values(entries):
    return [str(entry.value.value) for entry in entries]


def test_a_session_starts_at_the_first_position_of_the_first_check(plan, at):
    session = start(plan)
    assert (session.check, session.position) == (GAPS, at(1))
    assert session.last_entry is None
    assert session.log() == []
    assert session.missing(GAPS) == plan.checks[0].positions


def test_a_reading_is_current_at_its_place_and_makes_it_the_one_in_hand(plan, at, reading, happen):
    session = step(start(plan), happen(reading("17.5", 2, "second")))
    assert session.position == at(2, "second")
    assert session.current(GAPS, at(2, "second")) == session.last_entry
    assert session.last_entry.stands
    assert session.current(GAPS, at(1)) is None


def test_a_bare_reading_belongs_to_the_position_in_hand(plan, at, happen):
    events = [happen(Draft(Kind.MOVE, position=at(2))), happen(Draft(Kind.READING, value=length("18")))]
    session = fold(plan, events)
    assert session.current(GAPS, at(2)).value == length("18")


def test_the_fold_does_not_go_on_by_itself(plan, at, reading, happen):
    assert fold(plan, [happen(reading("18", 1))]).position == at(1)


def test_a_later_reading_is_current_and_the_earlier_one_is_kept(plan, at, reading, happen):
    session = fold(plan, [happen(reading("16")), happen(reading("17")), happen(reading("18"))])
    assert values(session.history(GAPS, at(1))) == ["16", "17", "18"]
    assert session.current(GAPS, at(1)).value == length("18")


def test_a_correction_stands_in_place_of_what_it_corrects(plan, at, reading, happen):
    wrong = happen(reading("80"))
    right = happen(Draft(Kind.CORRECTION, value=length("18"), refers_to=wrong.id))
    session = fold(plan, [wrong, right])
    old, new = session.history(GAPS, at(1))
    assert (old.state, old.by, new.state) == (Fate.CORRECTED, right.id, Fate.STANDS)
    assert session.current(GAPS, at(1)) == session.last_entry == new


def test_a_correction_can_move_a_value_to_another_position(plan, at, reading, happen):
    kept = happen(reading("16", 1))
    wrong = happen(reading("18", 1))
    right = happen(Draft(Kind.CORRECTION, position=at(2), value=length("18"), refers_to=wrong.id))
    session = fold(plan, [kept, wrong, right])
    assert session.current(GAPS, at(1)).event == kept
    assert session.current(GAPS, at(2)).event == right
    assert session.position == at(2)


def test_a_correction_of_an_earlier_reading_does_not_hide_a_later_one(plan, at, reading, happen):
    first, second = happen(reading("15")), happen(reading("17"))
    session = fold(
        plan, [first, second, happen(Draft(Kind.CORRECTION, value=length("16"), refers_to=first.id))]
    )
    assert session.current(GAPS, at(1)).event == second
    assert values(session.standing(GAPS, at(1))) == ["16", "17"]


def test_a_void_brings_back_the_reading_before(plan, at, reading, happen):
    first, second = happen(reading("16", verdict="short")), happen(reading("30"))
    session = fold(plan, [first, second, happen(Draft(Kind.VOID, refers_to=second.id))])
    assert session.current(GAPS, at(1)).event == session.last_entry.event == first
    assert [entry.state for entry in session.log()] == [Fate.STANDS, Fate.VOIDED]


def test_voiding_the_only_reading_leaves_the_place_empty(plan, at, reading, happen):
    only = happen(reading("16"))
    session = fold(plan, [only, happen(Draft(Kind.VOID, refers_to=only.id))])
    assert session.current(GAPS, at(1)) is None
    assert session.last_entry is None
    assert at(1) in session.missing(GAPS)
    assert len(session.history(GAPS, at(1))) == 1


def test_voiding_a_correction_brings_back_what_it_corrected(plan, at, reading, happen):
    wrong = happen(reading("18"))
    right = happen(Draft(Kind.CORRECTION, value=length("19"), refers_to=wrong.id))
    session = fold(plan, [wrong, right, happen(Draft(Kind.VOID, refers_to=right.id))])
    assert session.current(GAPS, at(1)).event == wrong
    assert session.last_entry.event == wrong
    session = step(session, happen(Draft(Kind.VOID, refers_to=wrong.id)))
    assert session.last_entry is None


def test_what_was_voided_stays_voided_when_its_correction_is_voided_too(plan, at, reading, happen):
    wrong = happen(reading("18"))
    right = happen(Draft(Kind.CORRECTION, value=length("19"), refers_to=wrong.id))
    voids = [happen(Draft(Kind.VOID, refers_to=one.id)) for one in (wrong, right)]
    session = fold(plan, [wrong, right, *voids])
    assert [entry.state for entry in session.log()] == [Fate.VOIDED, Fate.VOIDED]


def test_of_two_corrections_the_later_stands_alone_after_the_earlier_is_voided(plan, at, reading, happen):
    wrong = happen(reading("18"))
    one, two = (happen(Draft(Kind.CORRECTION, value=length(v), refers_to=wrong.id)) for v in ("19", "20"))
    session = fold(plan, [wrong, one, two, happen(Draft(Kind.VOID, refers_to=one.id))])
    assert session.current(GAPS, at(1)).event == two
    assert session.find(wrong.id).by == two.id


def test_references_to_nothing_known_do_no_harm(plan, at, reading, happen):
    kept = happen(reading("18"))
    events = [kept, happen(Draft(Kind.VOID, refers_to="nothing")), happen(Draft(Kind.VOID))]
    assert fold(plan, events).last_entry.event == kept
    events.append(happen(Draft(Kind.CORRECTION, value=length("19"), refers_to="nothing")))
    assert fold(plan, events).current(GAPS, at(1)).value == length("19")


def test_changing_check_returns_to_where_it_was_left(plan, at, happen):
    events = [
        happen(Draft(Kind.MOVE, position=at(2, "second"))),
        happen(Draft(Kind.CHECK, check="washed")),
    ]
    session = fold(plan, events)
    assert (session.check, session.position) == ("washed", Position.of({"cylinder": "1"}))
    session = step(session, happen(Draft(Kind.CHECK, check=GAPS)))
    assert (session.check, session.position) == (GAPS, at(2, "second"))


def test_a_tick_is_an_entry_that_says_whether_it_was_done(plan, happen):
    place = Position.of({"cylinder": "2"})
    done = happen(Draft(Kind.TICK, "washed", place, data={"done": True}))
    session = fold(plan, [done])
    assert session.current("washed", place).done is True
    assert session.results("washed") == {place: session.last_entry}


def turns_since(session, place):
    """The turns at a place since its current reading was measured."""
    since = session.current(GAPS, place).measured
    made = session.turns.get((GAPS, place), ())
    return sum((turn.count for turn in made if turn.number > since), Decimal(0))


def test_turns_add_up_until_the_next_reading(plan, at, reading, happen):
    def turned(count):
        return happen(Draft(Kind.TURNS, data={"count": count}))

    events = [happen(reading("14")), turned("5"), turned("2.5")]
    assert turns_since(fold(plan, events), at(1)) == Decimal("7.5")
    events += [happen(reading("15")), turned("4")]
    session = fold(plan, events)
    assert turns_since(session, at(1)) == 4
    (one,) = session.passes(GAPS, at(1))
    assert (str(one.before.value.value), str(one.after.value.value), one.turns) == (
        "14",
        "15",
        Decimal("7.5"),
    )
    assert one.dressed is False


def test_voiding_a_reading_adds_up_the_turns_on_both_sides_of_it(plan, at, reading, happen):
    first, five, middle = (
        happen(draft) for draft in (reading("14"), Draft(Kind.TURNS, data={"count": "5"}), reading("15"))
    )
    events = [
        first,
        five,
        middle,
        happen(Draft(Kind.TURNS, data={"count": "3"})),
        happen(Draft(Kind.DRESSED)),
        happen(Draft(Kind.VOID, refers_to=middle.id)),
    ]
    session = fold(plan, events)
    assert turns_since(session, at(1)) == 8
    session = step(session, happen(reading("16")))
    (one,) = session.passes(GAPS, at(1))
    assert (one.turns, one.dressed) == (8, True)


def test_turns_can_be_voided(plan, at, reading, happen):
    turned = happen(Draft(Kind.TURNS, data={"count": "5"}))
    session = fold(plan, [happen(reading("14")), turned, happen(Draft(Kind.VOID, refers_to=turned.id))])
    assert turns_since(session, at(1)) == 0


def test_a_correction_keeps_the_turns_made_since_the_reading_that_it_corrects(plan, at, reading, happen):
    wrong = happen(reading("14"))
    events = [
        wrong,
        happen(Draft(Kind.TURNS, data={"count": "5"})),
        happen(Draft(Kind.CORRECTION, value=length("15"), refers_to=wrong.id)),
    ]
    assert turns_since(fold(plan, events), at(1)) == 5


def test_stand_by_and_finish_hold_until_told_otherwise(plan, happen):
    session = fold(plan, [happen(Draft(Kind.STAND_BY)), happen(Draft(Kind.FINISHED))])
    assert session.standing_by
    assert session.finished
    assert not step(session, happen(Draft(Kind.GO_AHEAD))).standing_by
    resumed = step(session, happen(Draft(Kind.RESUMED)))
    assert not resumed.standing_by
    assert not resumed.finished


@pytest.mark.parametrize(
    "kind",
    [
        *(Kind.READING, Kind.MOVE, Kind.VOID, Kind.TICK, Kind.CORRECTION, Kind.RESUMED),
        *(Kind.STAND_BY, Kind.FINISHED),  # an old question must not be answered hours later, nor twice
    ],
)
def test_a_question_is_open_until_something_else_happens(plan, happen, kind):
    asked = happen(Draft(Kind.ASKED, data={"candidates": ["18", "80"]}))
    session = step(start(plan), asked)
    assert session.asked == asked
    assert step(session, happen(Draft(Kind.DRESSED))).asked == asked
    assert step(session, happen(Draft(kind))).asked is None


def test_an_older_session_is_not_changed_by_going_on_from_it(plan, at, reading, happen):
    before = fold(plan, [happen(reading("16"))])
    kept = dict(before.entries)
    step(before, happen(reading("17")))
    extend(before, [happen(Draft(Kind.VOID, refers_to=before.last_entry.event.id))])
    assert dict(before.entries) == kept
    with pytest.raises(TypeError):
        before.entries[GAPS, at(1)] = ()


def test_places_that_the_plan_lacks_are_kept_at_the_end(plan, at, reading, happen):
    session = fold(plan, [happen(reading("18", 9))])
    assert session.places(GAPS)[-1] == at(9)
    assert session.current(GAPS, at(9)) is not None


def test_opening_keeps_the_plan_and_who_measured_with_what(plan, journal):
    event = journal.append(opening(plan, who="J. Marten", instrument="feeler set 2"))
    assert plan_text(journal.events()) == plan.text
    assert event.draft.data["who"] == "J. Marten"
    assert fold(plan, [event]).opened == event
    check_same_plan(plan, journal.events())


def test_a_journal_of_another_plan_is_refused_with_a_sentence(plan, journal):
    from handsfree.planfile import parse_plan

    journal.append(opening(plan))
    other = parse_plan(plan.text.replace("18 thou", "19 thou"))
    with pytest.raises(JournalError, match='belongs to the plan "Two rings"'):
        check_same_plan(other, journal.events())
    with pytest.raises(JournalError, match="empty"):
        plan_text([])
