"""Go and no-go leaves: bounds, what several leaves on one ring come to, and what ends that."""

from __future__ import annotations

import pytest

from handsfree.record import Kind

pytestmark = pytest.mark.quick


def answers(talk, *phrases: str) -> str:
    return [talk.say(words).reply.text for words in phrases][-1]


@pytest.mark.parametrize(
    ("words", "answer", "verdict"),
    [
        ("no go eighteen", "One top, under eighteen. Just short of it. File a little, and measure.", "short"),
        ("no go seventeen", "One top, under seventeen. Over one to go.", "short"),
        ("no go nineteen", "One top, under nineteen. Not settled. Try the next leaf.", "open"),
        ("go eighteen", "One top, eighteen or more. Not settled. Try the next leaf.", "open"),
        (
            "go twenty",
            "One top, twenty or more. Over by half a thou. Don't file; try it in another bore, or replace.",
            "over",
        ),
        ("eighteen drag", "One top, eighteen. Good. Next, one second.", "good"),
        ("eighteen goes nineteen stops", "One top, eighteen to nineteen. Good. Next, one second.", "good"),
        (
            "seventeen goes nineteen stops",
            "One top, seventeen to nineteen. Not settled. Try the next leaf.",
            "open",
        ),
        (
            "nineteen goes eighteen stops",
            "One top, nineteen to eighteen. The leaves contradict each other. Measure again.",
            "uncertain",
        ),
    ],
)
def test_leaves_are_bounds_and_never_values(talk, words, answer, verdict):
    exchange = talk.say(words)
    assert exchange.reply.text == answer
    assert exchange.events[0].draft.verdict == verdict


def test_what_is_stored_is_what_the_leaf_showed_not_what_is_known_by_then(talk):
    talk.say("go eighteen")
    talk.say("no go nineteen")
    assert talk.log() == ["1 top: over 18 thou", "1 top: under 19 thou"]


CONTRADICT = "The leaves contradict each other. Measure again."


@pytest.mark.parametrize(
    ("before", "words", "answer"),
    [
        # go 18 and no go 19 on the same ring: between
        (["go eighteen"], "no go nineteen", "One top, eighteen to nineteen. Good. Next, one second."),
        (["no go nineteen"], "go eighteen", "One top, eighteen to nineteen. Good. Next, one second."),
        # all leaves since then count, not the last alone
        (
            ["go eighteen", "no go twenty"],
            "no go nineteen",
            "One top, eighteen to nineteen. Good. Next, one second.",
        ),
        (
            ["no go twenty", "go seventeen", "no go nineteen"],
            "go eighteen",
            "One top, eighteen to nineteen. Good. Next, one second.",
        ),
        # a leaf that tells less than is known leaves it known
        (["no go nineteen"], "no go twenty", "One top, under nineteen. Not settled. Try the next leaf."),
        # it was short, so it was filed since: what did not go may go now
        (["no go seventeen"], "go eighteen", "One top, eighteen or more. Not settled. Try the next leaf."),
        # but what went still goes
        (
            ["go sixteen", "no go seventeen"],
            "no go twenty",
            "One top, sixteen to twenty. Not settled. Try the next leaf.",
        ),
        # turns were told: filed since
        (
            ["no go nineteen", "two turns"],
            "go eighteen",
            "One top, eighteen or more. Not settled. Try the next leaf.",
        ),
        (
            ["go eighteen", "two turns"],
            "no go nineteen",
            "One top, eighteen to nineteen. Good. Next, one second.",
        ),
        # what contradicts is measured again: a gap only grows, and this one wasn't filed
        (["go nineteen"], "no go eighteen", f"One top, under eighteen. {CONTRADICT}"),
        (["go nineteen", "two turns"], "no go eighteen", f"One top, under eighteen. {CONTRADICT}"),
        (["no go nineteen"], "go nineteen", f"One top, nineteen or more. {CONTRADICT}"),
        (
            ["no go nineteen", "two turns"],
            "go nineteen",
            "One top, nineteen or more. Not settled. Try the next leaf.",
        ),
        # and after that only what is measured again counts
        (
            ["go nineteen", "no go eighteen"],
            "go seventeen",
            "One top, seventeen or more. Not settled. Try the next leaf.",
        ),
        # a figure is a figure, but not below a leaf that went
        (["go sixteen"], "seventeen", "One top, seventeen. File one."),
        (["no go nineteen"], "seventeen", "One top, seventeen. File one."),
        (
            ["go eighteen"],
            "seventeen",
            "One top, seventeen. Eighteen or more before, and a gap only grows. Measure again.",
        ),
        (
            ["eighteen", "go to cylinder one top"],
            "no go seventeen",
            "One top, under seventeen. Eighteen before, and a gap only grows. Measure again.",
        ),
        (["seventeen"], "no go nineteen", "One top, under nineteen. Not settled. Try the next leaf."),
        # a ring that was over is another ring now
        (["go twenty"], "no go twenty one", "One top, under twenty one. Not settled. Try the next leaf."),
        (
            ["go eighteen", "go twenty"],
            "no go nineteen",
            "One top, under nineteen. Not settled. Try the next leaf.",
        ),
        # another place is another ring
        (
            ["go eighteen"],
            "cylinder two top no go nineteen",
            "Two top, under nineteen. Not settled. Try the next leaf.",
        ),
        # what was voided or corrected tells nothing
        (
            ["go eighteen", "disregard"],
            "no go nineteen",
            "One top, under nineteen. Not settled. Try the next leaf.",
        ),
        (
            ["go eighteen", "correction go seventeen"],
            "no go nineteen",
            "One top, seventeen to nineteen. Not settled. Try the next leaf.",
        ),
        # a bracket is joined with what is known
        (
            ["go eighteen"],
            "seventeen goes nineteen stops",
            "One top, eighteen to nineteen. Good. Next, one second.",
        ),
    ],
)
def test_leaves_on_one_ring_are_joined_while_they_can_be(talk, before, words, answer):
    for earlier in before:
        talk.say(earlier)
    assert talk.say(words).reply.text == answer


def test_a_corrected_leaf_counts_by_itself(talk):
    talk.say("go eighteen")
    exchange = talk.say("correction no go nineteen")
    assert exchange.reply.text.startswith("Corrected. One top, under nineteen, was eighteen or more.")


def test_a_setting_that_was_outside_its_limits_is_set_anew_so_nothing_before_holds(talk):
    """Where nothing is filed a size can go down as well as up: lash is set, clearance is changed."""
    talk.say("check side clearance")
    talk.say("go point zero two")  # open
    talk.say("go point zero eight")  # over: it will be set again
    exchange = talk.say("no go point zero nine")
    assert exchange.events[0].draft.verdict == "open"


@pytest.mark.parametrize(
    "words", ["eighty goes ninety stops", "eighteen goes ninety stops", "four goes nineteen stops"]
)
def test_an_implausible_leaf_of_two_is_refused_and_said_again(talk, words):
    exchange = talk.say(words)
    assert exchange.events == ()
    assert "can't be right for one top. Not logged. Say it again, with its unit." in exchange.reply.text
    assert talk.log() == []


def test_two_leaves_keyed_are_the_two_leaves_said(talk):
    exchange = talk.key("1*1*18+19-")
    assert exchange.reply.text == "One top, eighteen to nineteen. Good. Next, one second."
    assert talk.log() == ["1 top: over 18 thou to 19 thou"]
    assert [event.kind for event in exchange.events] == [Kind.READING, Kind.MOVE]


def test_read_back_says_what_the_leaf_showed(talk):
    talk.say("no go eighteen")
    assert talk.say("read back").reply.text == "One top, under eighteen thou."
