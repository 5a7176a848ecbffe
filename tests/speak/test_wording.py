"""Every sentence that the program says, word for word."""

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.length import Length, Unit, in_unit, length
from handsfree.plan import Caution, Position
from handsfree.speak import (
    SILENCE,
    After,
    Between,
    Bound,
    Logged,
    OpenPlaces,
    Phrasing,
    Side,
    Tone,
    Verbosity,
    Wording,
    place_words,
)
from handsfree.speak.amount import amount_words, speakable
from handsfree.speak.phrasing import label_words, listed, sentence_case

pytestmark = pytest.mark.quick

THREE_TOP = Position.of({"cylinder": "3", "ring": "top"})
FOUR_TOP = Position.of({"cylinder": "4", "ring": "top"})
FIVE_SECOND = Position.of({"cylinder": "5", "ring": "second"})
MAIN_TWO = Position.of({"main": "2"})
NORMAL = Wording()
TERSE = Wording(Verbosity.TERSE)
FULL = Wording(Verbosity.FULL)


@pytest.mark.parametrize(
    ("wording", "text"),
    [
        (TERSE, "Three top, eighteen, file two."),
        (NORMAL, "Three top, eighteen. File two."),
        (
            FULL,
            "Cylinder three top ring, eighteen thou, one eight. File two thou to reach the target.",
        ),
    ],
)
def test_short_says_value_then_what_is_left(wording, text):
    reply = wording.verdict.short(Logged(THREE_TOP, length("18")), length("2"))
    assert (reply.text, reply.tone) == (text, Tone.SHORT)


@pytest.mark.parametrize(
    ("wording", "text"),
    [
        (TERSE, "Three top, eighteen half, good. Four top."),
        (NORMAL, "Three top, eighteen and a half. Good. Next, four top."),
        (
            FULL,
            "Cylinder three top ring, eighteen and a half thou, one eight point five. "
            "Good, inside its limits. Next, cylinder four top ring.",
        ),
    ],
)
def test_good_names_what_comes_next(wording, text):
    reply = wording.verdict.good(Logged(THREE_TOP, length("18.5")), After(then=FOUR_TOP))
    assert (reply.text, reply.tone) == (text, Tone.GOOD)


def test_last_good_reading_says_that_it_was_the_last():
    reply = NORMAL.verdict.good(Logged(THREE_TOP, length("18.5")), After(last=True))
    assert (
        reply.text == "Three top, eighteen and a half. Good. That was the last. Say finish when you are done."
    )
    assert reply.aloud == "Three top, eighteen and a half. Good. All measured."


def test_the_next_place_is_shown_with_more_words_than_are_spoken():
    reply = NORMAL.verdict.good(Logged(THREE_TOP, length("18.5")), After(then=FOUR_TOP))
    assert (reply.text, reply.aloud) == (
        "Three top, eighteen and a half. Good. Next, four top.",
        "Three top, eighteen and a half. Good. Four top.",
    )


@pytest.mark.parametrize("rest", ["2", "5", "0.5", "7.75"])
def test_a_word_parts_the_two_numbers_of_a_terse_answer(rest):
    """Heard without it, "fourteen, five left" was forty five."""
    logged = Logged(THREE_TOP, length("14"), in_hand=True)
    spoken = TERSE.verdict.short(logged, length(rest)).aloud
    assert spoken.startswith("Fourteen, file ")


@pytest.mark.parametrize(
    ("wording", "text"),
    [
        (TERSE, "Three top, twenty one, over by one and a half. Don't file."),
        (
            NORMAL,
            "Three top, twenty one. Over by one and a half. Don't file; try it in another bore, or replace.",
        ),
        (
            FULL,
            "Cylinder three top ring, twenty one thou. Over by one and a half thou. "
            "Don't file; try it in another bore, or replace. The maker's figures decide.",
        ),
    ],
)
def test_over_says_by_how_much_and_forbids_filing(wording, text):
    reply = wording.verdict.over(Logged(THREE_TOP, length("21")), length("1.5"))
    assert (reply.text, reply.tone) == (text, Tone.OVER)


def test_uncertain_says_measure_again_and_dont_file():
    reply = NORMAL.verdict.uncertain(Logged(THREE_TOP, length("18.4")))
    assert reply.text == "Three top, eighteen point four. Close to the limit. Don't file; measure again."
    assert reply.tone is Tone.ASK


def test_no_go_leaf_is_said_as_a_bound_and_so_is_what_is_left():
    reply = NORMAL.verdict.short(
        Logged(THREE_TOP, Bound(Side.UNDER, length("18"))), Bound(Side.OVER, length("2"))
    )
    assert reply.text == "Three top, under eighteen. File over two."


def test_two_leaves_are_said_as_an_interval():
    value, rest = Between(length("18"), length("19")), Between(length("1"), length("2"))
    assert (
        NORMAL.verdict.short(Logged(THREE_TOP, value), rest).text
        == "Three top, eighteen to nineteen. File one to two."
    )


def test_bound_that_decides_nothing_asks_for_the_next_leaf():
    reply = NORMAL.verdict.unsettled(Logged(THREE_TOP, Bound(Side.AT_LEAST, length("18"))))
    assert reply.text == "Three top, eighteen or more. Not settled. Try the next leaf."


def test_reading_without_a_target_is_noted():
    assert (
        NORMAL.verdict.noted(Logged(MAIN_TWO, length("2.5"))).text
        == "Main two, two and a half. Noted, no target."
    )


def test_correction_says_new_value_then_the_old_one_then_what_is_left():
    reply = NORMAL.verdict.short(Logged(THREE_TOP, length("19"), was=length("18")), length("1"))
    assert reply.text == "Corrected. Three top, nineteen, was eighteen. File one."


def test_advice_comes_after_the_verdict_and_before_the_next_place():
    text = NORMAL.verdict.good(
        Logged(THREE_TOP, length("20")), After(then=FOUR_TOP, advice="Deburr it.")
    ).text
    assert text == "Three top, twenty. Good. Deburr it. Next, four top."


def test_another_kind_of_work_has_its_own_words():
    text = NORMAL.verdict.short(Logged(THREE_TOP, length("18")), length("2"), action="grind").text
    assert text == "Three top, eighteen. Grind two."
    text = NORMAL.verdict.short(Logged(THREE_TOP, length("18")), length("2"), action="short_by").text
    assert text == "Three top, eighteen. Short by two."


def test_foreign_unit_makes_every_unit_be_said():
    reply = NORMAL.verdict.short(Logged(THREE_TOP, length("0.45", Unit.MM)), length("2.2834645"))
    assert reply.text == "Three top, zero point four five millimetres. File about two point two eight thou."


def test_millimetres_are_left_unsaid_in_a_session_in_millimetres():
    wording = Wording(unit=Unit.MM)
    text = wording.verdict.short(Logged(THREE_TOP, length("0.45", Unit.MM)), length("0.05", Unit.MM)).text
    assert text == "Three top, zero point four five. File five hundredths."


def test_less_than_a_thou_is_said_with_its_unit():
    assert NORMAL.verdict.short(Logged(THREE_TOP, length("19.5")), length("0.5")).text.endswith(
        "File half a thou."
    )
    assert NORMAL.verdict.short(Logged(THREE_TOP, length("19.25")), length("0.75")).text.endswith(
        "File three quarters of a thou."
    )


def test_amount_too_fine_to_follow_is_rounded_towards_filing_less_and_excess_towards_more():
    assert (
        "File about one point nine six."
        in NORMAL.verdict.short(Logged(THREE_TOP, length("18")), length("1.969")).text
    )
    assert (
        "Over by about one point nine seven."
        in NORMAL.verdict.over(Logged(THREE_TOP, length("22")), length("1.961")).text
    )


def test_amount_that_would_round_to_nothing_is_never_said_as_zero():
    text = NORMAL.verdict.short(Logged(THREE_TOP, length("18")), length("0.0012")).text
    assert text == "Three top, eighteen. File under zero point zero one thou."


@given(
    st.decimals(min_value="0.001", max_value="999", places=4).filter(lambda value: value != 0),
    st.sampled_from(list(Unit)),
    st.sampled_from(list(Verbosity)),
)
def test_reading_is_said_with_every_digit_it_has(value, unit, verbosity):
    said = Phrasing(verbosity).value(Length(value, unit))
    assert amount_words(Length(value, unit), unit=False) in said or "thou" in said
    assert "about" not in said


@settings(deadline=None)  # the first case imports the unit registry
@given(st.fractions(min_value="1/1000", max_value=3, max_denominator=10_000))
def test_spoken_amount_never_exceeds_the_true_one_and_is_marked_where_shortened(millimetres):
    exact = Length(in_unit(millimetres, Unit.THOU, places=9), Unit.THOU)
    shorter, dropped = speakable(exact)
    assert exact.value - Decimal("0.01") < shorter.value <= exact.value
    assert dropped is (shorter.value != exact.value)
    said = Phrasing().computed(exact)
    assert said.startswith(("about ", "under ")) is dropped


# ---- the trade beyond a single verdict


@pytest.mark.parametrize(
    ("wording", "spoken"),
    [
        (TERSE, "Three top, fifteen half, file two and a half. Check after four."),
        (NORMAL, "Three top, fifteen and a half. Two and a half to go, about six turns, check after four."),
        (
            FULL,
            "Cylinder three top ring, fifteen and a half thou, one five point five. "
            "Two and a half thou to go, "
            "about six turns. Check after four. The chance of going over is at most five in a hundred.",
        ),
    ],
)
def test_next_pass_says_what_is_left_about_how_far_and_when_to_look(wording, spoken):
    reply = wording.verdict.short_of_turns(
        Logged(THREE_TOP, length("15.5")), length("2.5"), "learned", about=6, turns=4, risk=0.05
    )
    assert (reply.aloud, reply.tone) == (spoken, Tone.SHORT)
    assert reply.text == f"{spoken} (chance of going over: 5 % at most)"


@pytest.mark.parametrize(
    ("pace", "fields", "text"),
    [
        ("unknown", {}, "Two to go. Make a short pass, count the turns, and measure."),
        ("early", {"about": 12, "turns": 1}, "Two to go, perhaps twelve turns, check after one."),
        ("last", {"about": 1, "turns": 1}, "Two to go. One turn, then measure."),
        ("by_hand", {"about": 1, "turns": 0}, "Two to go. One stroke by hand, then measure."),
    ],
)
def test_pass_is_worded_by_what_is_known_of_the_wheel(pace, fields, text):
    reply = NORMAL.verdict.short_of_turns(Logged(THREE_TOP, length("16")), length("2"), pace, **fields)
    assert reply.text == f"Three top, sixteen. {text}"


JOURNAL = Position.of({"main": "3", "part": "journal"})
LASH = Position.of({"cylinder": "1", "valve": "intake", "part": "lash"})
INCH, MM = Wording(unit=Unit.INCH), Wording(unit=Unit.MM)


def test_a_sum_of_parts_is_said_after_the_reading_and_before_its_verdict():
    reply = INCH.verdict.good(Logged(JOURNAL, length("2.1", "in"), makes=length("2.6")), After(then=MAIN_TWO))
    assert (
        reply.text
        == "Main three journal, two point one. That makes two point six thou. Good. Next, main two."
    )


def test_clearance_outside_its_limits_is_not_to_be_assembled():
    text = INCH.verdict.short(
        Logged(JOURNAL, length("2.1", "in"), makes=length("0.6")), length("0.4"), action="tight"
    ).text
    assert text == (
        "Main three journal, two point one inches. That makes zero point six thou. "
        "Short by zero point four thou; don't assemble it so."
    )
    text = INCH.verdict.over(
        Logged(JOURNAL, length("2.1", "in"), makes=length("4")), length("1"), remedy="joint"
    ).text
    assert text.endswith("That makes four thou. Over by one thou. Don't assemble it so.")


def test_part_is_logged_and_the_next_one_named():
    text = INCH.verdict.part_logged(Logged(JOURNAL, length("2.1", "in")), After(MAIN_TWO)).text
    assert text == "Main three journal, two point one. Next, main two."


def test_shim_is_named_with_the_lash_that_it_should_give():
    reply = MM.verdict.shim(
        Logged(LASH, length("0.08", "mm")),
        length("0.08", "mm"),
        "short",
        length("2.55", "mm"),
        length("0.13", "mm"),
        length("2.55", "mm"),
    )
    assert reply.text == (
        "One intake lash, zero point zero eight. Lash zero point zero eight is too small. "
        "Fit two point five five for zero point one three, then measure both again."
    )


def test_shim_that_cannot_be_had_is_said_with_what_it_would_be():
    reply = MM.verdict.shim(
        Logged(LASH, length("0.9", "mm")), length("0.9", "mm"), "over", None, None, length("3.37", "mm")
    )
    assert reply.text.endswith(
        "Lash zero point nine is too large, and no shim that can be had puts it right. "
        "Wanted three point three seven."
    )
    assert reply.tone is Tone.OVER


def test_another_bore_is_named_where_it_would_take_the_ring():
    text = NORMAL.verdict.over(
        Logged(THREE_TOP, length("21")), length("1.5"), remedy="other_bore", elsewhere=FOUR_TOP
    ).text
    assert text == "Three top, twenty one. Over by one and a half. Don't file; try it in four top."
    text = NORMAL.verdict.over(Logged(THREE_TOP, length("21")), length("1.5"), remedy="no_bore").text
    assert text.endswith("Don't file; no other bore here would take it, so replace it.")


@pytest.mark.parametrize(
    ("leaves", "text"),
    [
        (("18",), "Not settled. Try eighteen."),
        (("10", "8"), "Not settled. Try ten and eight together."),
        (("10", "5", "3"), "Not settled. Try ten, five and three together."),
        ((), "Not settled, and no leaf in the drawer can tell more."),
    ],
)
def test_next_leaf_or_stack_is_named(leaves, text):
    sizes = tuple(length(leaf) for leaf in leaves)
    reply = NORMAL.verdict.unsettled(Logged(THREE_TOP, Bound(Side.AT_LEAST, length("17"))), leaves=sizes)
    assert reply.text == f"Three top, seventeen or more. {text}"


def test_readings_that_disagree_are_said_with_the_one_before():
    text = NORMAL.verdict.disagrees(Logged(MAIN_TWO, length("7")), length("9"), filed=False).text
    assert text == "Main two, seven. It was nine before. Measure again."
    text = NORMAL.verdict.contradicts(Logged(THREE_TOP, Bound(Side.UNDER, length("17")))).text
    assert text == "Three top, under seventeen. The leaves contradict each other. Measure again."


def test_heat_is_an_estimate_and_says_so_every_time():
    remark = "an estimate from assumed temperatures; the maker's figure decides"
    assert NORMAL.work.hot(length("0.4"), remark, butts=False, again=False) == (
        f"Hot, it may leave only zero point four thou, {remark}."
    )
    assert (
        NORMAL.work.hot(length("0"), remark, butts=True, again=False) == f"Hot, its ends may meet, {remark}."
    )
    assert "estimate" in NORMAL.work.hot(length("0.4"), remark, butts=False, again=True)


def test_share_out_names_ring_and_bore_what_is_spare_and_what_is_wanted():
    text = NORMAL.work.shared_out([("one", "four"), ("two", "one")], ["three"], ["cylinder two"])
    assert text == (
        "All tried. Least filing: one to four and two to one. No bore takes three. "
        "A ring is wanted for cylinder two."
    )


def test_unit_of_a_place_is_the_one_left_unsaid_there():
    inches = NORMAL.at(Unit.INCH)
    text = inches.verdict.noted(Logged(MAIN_TWO, length("2.1", "in"))).text
    assert text == "Main two, two point one. Noted, no target."
    assert inches.verdict.noted(Logged(MAIN_TWO, length("2"))).text == "Main two, two thou. Noted, no target."
    assert NORMAL.at(Unit.THOU) is NORMAL
    assert FULL.at(Unit.INCH).verbosity is Verbosity.FULL


# ---- no more words than are needed


@pytest.mark.parametrize(
    ("wording", "named", "spoken"),
    [
        (TERSE, False, "Eighteen half, good."),
        (TERSE, True, "Eighteen half, good."),
        (NORMAL, False, "Eighteen and a half. Good."),
        (NORMAL, True, "Three top, eighteen and a half. Good."),
    ],
)
def test_place_in_hand_and_the_obvious_next_one_are_shown_and_not_spoken(wording, named, spoken):
    logged = Logged(THREE_TOP, length("18.5"), in_hand=True, named=named)
    reply = wording.verdict.good(logged, After(FOUR_TOP, obvious=True))
    assert reply.aloud == spoken
    assert reply.text.startswith("Three top, eighteen")
    assert reply.text.endswith("our top.")


def test_place_that_was_not_in_hand_and_a_next_one_that_is_news_are_spoken():
    reply = TERSE.verdict.good(Logged(THREE_TOP, length("18")), After(FIVE_SECOND))
    assert reply.aloud == "Three top, eighteen, good. Five second."


def test_full_answer_names_every_place():
    logged = Logged(THREE_TOP, length("18.5"), in_hand=True, named=False)
    reply = FULL.verdict.good(logged, After(FOUR_TOP, obvious=True))
    assert reply.aloud == reply.text
    assert "cylinder three top ring" in reply.text.lower()
    assert "Next, cylinder four top ring." in reply.text


def test_terse_correction_in_hand_says_both_values():
    logged = Logged(THREE_TOP, length("16.5"), was=length("15"), in_hand=True, named=False)
    assert (
        TERSE.verdict.short(logged, length("1.5")).aloud == "Sixteen half, was fifteen, file one and a half."
    )


def test_reading_below_ten_is_never_shortened_to_what_could_be_a_half():
    logged = Logged(MAIN_TWO, length("1.5"), in_hand=True)
    assert TERSE.verdict.good(logged).aloud == "One and a half, good."


def test_no_go_leaf_of_the_aims_own_size_is_just_short_and_not_by_zero():
    bound = Logged(THREE_TOP, Bound(Side.UNDER, length("18")))
    text = NORMAL.verdict.short(bound, Bound(Side.OVER, length("0")), action="to_go").text
    assert text == "Three top, under eighteen. Just short of it. File a little, and measure."


# ---- questions


def test_say_again_offers_more_help_each_time():
    texts = [NORMAL.say_again(times).text for times in (1, 2, 3, 9)]
    assert texts[0] == "Say again?"
    assert texts[1] == "Say again, a little slower?"
    assert texts[2] == texts[3] == "Can't make that out. Say it closer to the microphone, or key it."
    assert NORMAL.say_again().tone is Tone.AGAIN


def test_two_values_are_asked_by_the_part_in_doubt():
    reply = NORMAL.between_values([length("15"), length("50")])
    assert (reply.text, reply.expects, reply.tone) == ("Fifteen, or fifty?", ("fifteen", "fifty"), Tone.ASK)


def test_two_cylinders_are_asked_with_the_axis_once():
    reply = NORMAL.between_places("cylinder", ["5", "9"])
    assert (reply.text, reply.expects) == ("Cylinder five, or nine?", ("five", "nine"))


def test_two_rings_are_asked_without_the_axis():
    assert NORMAL.between_places("ring", ["top", "second"]).text == "Top, or second?"


def test_confirming_a_value_expects_yes_or_no():
    reply = NORMAL.confirm_value(length("18.5"), THREE_TOP)
    assert reply.text == "Three top, eighteen and a half? Yes or no."
    assert reply.expects == ("yes", "no")


def test_value_out_of_range_is_named_with_its_unit_and_not_logged():
    text = NORMAL.out_of_range(THREE_TOP, length("450")).text
    assert text.startswith("Four hundred and fifty thou can't be right for three top. Not logged.")
    assert text.endswith("Say it again, with its unit.")


def test_half_said_entries_are_asked_to_be_completed():
    assert NORMAL.reading_wanted(THREE_TOP).text == "Three top. What is the reading?"


# ---- procedure words


def test_disregard_says_what_went_and_what_stands():
    reply = NORMAL.disregarded(THREE_TOP, length("18"), stands=length("20"))
    assert reply.text == "Disregarded: three top, eighteen. Twenty stands."


def test_disregard_of_the_only_reading_opens_the_place_again():
    text = NORMAL.disregarded(THREE_TOP, length("18")).text
    assert text == "Disregarded: three top, eighteen. Three top is open again."


@pytest.mark.parametrize(
    ("reply", "text"),
    [
        (NORMAL.standing_by(), "Standing by. Say go ahead to go on."),
        (NORMAL.still_standing_by(), "Standing by. Not logged."),
        (NORMAL.go_ahead(THREE_TOP), "Going on. Three top."),
        (NORMAL.go_ahead(None), "Going on."),
        (NORMAL.no_reading(THREE_TOP), "Three top, no reading."),
        (NORMAL.nothing_to_repeat(), "Nothing to repeat."),
        (NORMAL.nothing_to_correct(), "Nothing to correct."),
        (NORMAL.nothing_to_disregard(), "Nothing to disregard."),
        (NORMAL.nothing_asked(), "Nothing was asked."),
        (NORMAL.negative(), "Not that, then. Say it again."),
        (NORMAL.kept(), "Left as it was."),
        (NORMAL.disregarded_note("ten turns"), "Disregarded: ten turns."),
        (NORMAL.moved(FOUR_TOP, length("20")), "Now four top."),
        (NORMAL.moved(FOUR_TOP), "Now four top."),
        (NORMAL.moved(FOUR_TOP, length("20"), length("18")), "Now four top. Last was eighteen."),
        (NORMAL.no_such_place("cylinder nine"), "There is no cylinder nine in this plan."),
        (NORMAL.end_of_plan(THREE_TOP), "No more after three top."),
        (NORMAL.start_of_plan(THREE_TOP), "None before three top."),
        (NORMAL.check_changed("oil rails", MAIN_TWO), "Oil rails. Main two."),
        (NORMAL.check_changed("oil rails", MAIN_TWO, "In inches."), "Oil rails. In inches. Main two."),
        (NORMAL.check_changed("oil rails"), "Oil rails."),
        (NORMAL.turns(Decimal(1)), "One turn, noted."),
        (NORMAL.turns(Decimal(10), advice="Then twelve more."), "Ten turns, noted. Then twelve more."),
        (FULL.turns(Decimal(10), THREE_TOP), "Ten turns, noted for cylinder three top ring."),
        (FULL.turns(Decimal(10)), "Ten turns, noted."),
        (NORMAL.dressed(), "Wheel dressed, noted."),
        (NORMAL.ticked("eye protection"), "Eye protection, done."),
        (NORMAL.unticked("eye protection"), "Eye protection, not done."),
        (NORMAL.work.whats_left(OpenPlaces(1, loose=(THREE_TOP,))), "One left: three top."),
        (NORMAL.work.whats_left(OpenPlaces()), "Nothing left."),
        (
            NORMAL.work.whats_left(OpenPlaces(elsewhere=("deck", "lash"))),
            "Nothing left here. Still open: deck and lash.",
        ),
        (NORMAL.work.whats_left(OpenPlaces(16, everything=True)), "All sixteen left."),
        (
            NORMAL.work.whats_left(OpenPlaces(16, everything=True, elsewhere=("deck",))),
            "All sixteen left, and more in deck.",
        ),
        (
            NORMAL.work.whats_left(
                OpenPlaces(4, whole=(("cylinder", "3"), ("cylinder", "4")), loose=(THREE_TOP,))
            ),
            "Four left: all of cylinder three and four; three top.",
        ),
        (
            NORMAL.work.whats_left(OpenPlaces(4, whole=(("part", "journal"),), filed=False)),
            "Four left: journal everywhere.",
        ),
        (
            NORMAL.work.finish_open(OpenPlaces(elsewhere=("deck",))),
            "Still open: deck. Finish all the same? Yes or no.",
        ),
        (
            NORMAL.work.finish_open(OpenPlaces(16, everything=True, elsewhere=("deck",))),
            "All sixteen still open, and more in deck. Finish all the same? Yes or no.",
        ),
        (NORMAL.finished(16), "Finished. Sixteen logged."),
        (NORMAL.finished(14, 2), "Finished. Fourteen logged, two left open."),
        (NORMAL.opened(THREE_TOP), "Ready. First, three top."),
        (NORMAL.resumed(7, 16, THREE_TOP), "Resumed. Seven of sixteen done. Next, three top."),
        (NORMAL.resumed(0, 16, THREE_TOP), "Resumed. None of sixteen done. Next, three top."),
        (NORMAL.resumed(16, 16, None), "Resumed. All sixteen are done."),
        (
            NORMAL.resumed(7, 16, THREE_TOP, remind=True),
            "Resumed. Seven of sixteen done. Next, three top. Eye protection on.",
        ),
        (
            NORMAL.opened(THREE_TOP, remind=True),
            "Ready. First, three top. Eye protection on.",
        ),
        (
            NORMAL.ticked("rods torqued", last=True),
            "Rods torqued, done. That was the last. Say finish when you are done.",
        ),
        (
            NORMAL.ticked("rods torqued", last=True, next_check="deck"),
            "Rods torqued, done. All measured. Say check deck.",
        ),
        (NORMAL.ticked("cylinder one", MAIN_TWO), "Cylinder one, done. Next, main two."),
        (NORMAL.end_of_plan(THREE_TOP, "deck"), "No more after three top. Say check deck to go on."),
        (
            FULL.moved(MAIN_TWO, limits=(length("6"), length("10"))),
            "Now main two. It may be six thou to ten thou.",
        ),
        (
            FULL.moved(MAIN_TWO, limits=(length("0.1", "mm"), length("0.2", "mm"))),
            "Now main two. It may be zero point one millimetres to zero point two millimetres.",
        ),
    ],
)
def test_sentence_is_worded_so(reply, text):
    assert reply.text == text
    assert reply.aloud == text


def test_what_is_left_is_shown_whole_and_spoken_as_far_as_it_can_be_followed():
    left = OpenPlaces(
        11,
        whole=(("ring", "second"),),
        each=8,
        short=(THREE_TOP,),
        over=(FOUR_TOP,),
        again=(FIVE_SECOND,),
    )
    reply = NORMAL.work.whats_left(left)
    assert reply.text == (
        "Eleven left: all second rings; three top to file; five second to measure again; four top over."
    )
    assert reply.aloud == "Eleven left: all second rings; three top to file; and two more."


def test_many_open_places_are_named_in_ranges():
    places = [Position.of({"cylinder": str(n), "ring": "top"}) for n in range(1, 8)]
    whole = tuple(("cylinder", str(number)) for number in range(3, 9))
    seconds = tuple(Position.of({"cylinder": str(n), "ring": "second"}) for n in (1, 2))
    text = NORMAL.work.whats_left(OpenPlaces(14, whole=whole, each=2, loose=seconds)).text
    assert text == "Fourteen left: three to eight, both; one and two second."
    text = NORMAL.work.finish_open(OpenPlaces(7, loose=tuple(places))).text
    assert text == ("Seven still open: one to seven top. Finish all the same? Yes or no.")


def test_trouble_shows_its_detail_and_speaks_only_what_to_do():
    reply = NORMAL.trouble("microphone_lost", "device 4 is gone")
    assert reply.text == "Microphone lost. Key your readings until it is back. (device 4 is gone)"
    assert reply.aloud == "Microphone lost. Key your readings until it is back."
    assert reply.tone is Tone.AGAIN


def test_cautions_are_shown_as_they_stand_and_spoken_in_short_pieces():
    told = tuple(
        Caution(name, f"{name} at length.", "More.", frozenset(), name) for name in ("A.", "B.", "C.")
    )
    reply = NORMAL.opened(THREE_TOP, (*told, Caution("d", "Only shown.", "More.", frozenset())))
    assert reply.text == (
        "Ready. Any key or word skips the cautions. A. At length. B. At length. C. At length. Only shown. "
        "First, three top."
    )
    assert reply.aloud == "Ready. A. B. C. First, three top."
    assert reply.pieces == ("Ready. A. B.", "C.", "First, three top.")
    assert " ".join(reply.pieces) == reply.aloud


def test_every_trouble_says_what_to_do_or_that_it_is_over():
    from handsfree.speak.phrasebook import shipped_phrasebook

    names = [name for name in shipped_phrasebook() if name.startswith("trouble.")]
    assert len(names) > 10
    for name in names:
        text = NORMAL.trouble(name.removeprefix("trouble.")).text
        assert text.count(".") >= 2 or text.endswith("back."), text


def test_chatter_is_answered_with_nothing():
    assert (SILENCE.text, SILENCE.aloud, SILENCE.tone) == ("", "", Tone.NONE)


# ---- places and lists


@pytest.mark.parametrize(
    ("labels", "words", "full"),
    [
        ({"cylinder": "3", "ring": "top"}, "three top", "cylinder three top ring"),
        ({"cylinder": "12"}, "cylinder twelve", "cylinder twelve"),
        ({"ring": "top"}, "top", "top ring"),
        ({"cylinder": "3", "ring": "oil rail"}, "three oil rail", "cylinder three oil rail ring"),
        ({"cylinder": "3", "valve": "2"}, "cylinder three valve two", "cylinder three valve two"),
        ({"main": "2"}, "main two", "main two"),
        (
            {"bank": "left", "cylinder": "3", "ring": "top"},
            "left three top",
            "left bank cylinder three top ring",
        ),
        ({"rod": "2B"}, "rod two B", "rod two B"),
        ({"main": "3", "part": "journal"}, "main three journal", "main three journal"),
        (
            {"cylinder": "1", "valve": "intake", "part": "lash"},
            "one intake lash",
            "cylinder one intake valve lash",
        ),
    ],
)
def test_place_is_named_as_the_bench_names_it(labels, words, full):
    position = Position.of(labels)
    assert place_words(position) == words
    assert place_words(position, full=True) == full


def test_label_with_a_long_number_is_left_as_written():
    assert label_words("1234567") == "1234567"


def test_list_of_one_more_than_allowed_is_given_whole():
    assert listed(["a", "b", "c"], most=2) == "a, b and c"


def test_every_sentence_begins_with_a_capital_and_decimals_are_left_alone():
    assert sentence_case("say again? it is 1.5. two") == "Say again? It is 1.5. Two"


def test_no_answer_holds_a_digit_or_an_unfilled_field():
    replies = [
        NORMAL.verdict.short(
            Logged(THREE_TOP, length("18.25"), was=length("17")), length("1.75"), After(then=FIVE_SECOND)
        ),
        FULL.verdict.over(
            Logged(THREE_TOP, Bound(Side.AT_LEAST, length("23"))), Bound(Side.AT_LEAST, length("1"))
        ),
        TERSE.work.whats_left(OpenPlaces(3, loose=(THREE_TOP, FOUR_TOP, FIVE_SECOND))),
    ]
    for reply in replies:
        assert not re.search(r"[0-9{}]", reply.text), reply.text
