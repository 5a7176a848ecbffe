"""Checks of every rule: limits, differences, shims and ticks."""

from fractions import Fraction

import pytest

from handsfree.errors import PlanError
from handsfree.length import Unit, length
from handsfree.plan import Position, Rule, parse_plan

pytestmark = pytest.mark.quick

HEAD = 'format = 1\nname = "t"\n[engine]\nname = "e"\n'

BEARINGS = (
    HEAD
    + """
[[instrument]]
name = "micrometer"
standard = "0.1 thou"

[[check]]
name = "main bearings"
rule = "difference"
formula = "housing - 2 shell - journal"
[check.axes]
main = 5
[[check.part]]
name = "housing"
nominal = "2.225 in"
instrument = "micrometer"
[[check.part]]
name = "shell"
given = "0.0612 in"
[[check.part]]
name = "journal"
nominal = "2.1 in"
[[check.target]]
lower = "1.5 thou"
upper = "3.5 thou"
"""
)

LASH = (
    HEAD
    + """
[[check]]
name = "valve lash"
rule = "shim"
unit = "mm"
[check.axes]
valve = 4
[[check.part]]
name = "shim"
nominal = "2.6 mm"
[[check.part]]
name = "lash"
[check.shims]
least = "2.00 mm"
most = "3.00 mm"
step = "0.05 mm"
[[check.target]]
lower = "0.13 mm"
upper = "0.19 mm"
"""
)

TICKS = (
    HEAD
    + '[[check]]\nname = "last looks"\nrule = "tick"\n'
    + '[check.axes]\nitem = ["rings clocked", "rods torqued"]\n'
)

DECK = (
    HEAD
    + '[[check]]\nname = "deck"\nrule = "limits"\nunit = "mm"\nsigned = true\n[check.axes]\ncylinder = 2\n'
    + '[[check.target]]\nlower = "-0.10 mm"\nupper = "0.30 mm"\n'
)


def fault(text, old="", new=""):
    assert old in text
    with pytest.raises(PlanError) as caught:
        parse_plan(text.replace(old, new, 1), "bench.toml")
    return str(caught.value)


def test_difference_reads_its_parts_item_by_item():
    check = parse_plan(BEARINGS).checks[0]
    assert [position.key for position in check.positions[:3]] == [
        "main 1, part housing",
        "main 1, part journal",
        "main 2, part housing",
    ]
    assert len(check.items) == 5
    assert check.item(check.positions[1]) == Position.of({"main": "1"})
    assert check.target(check.positions[1]).aim == length("2.5")
    assert [part.times for part in check.parts] == [1, -2, -1]
    assert check.axes[-1].labels == ("housing", "journal")  # the shell is given, so nobody reads it


def test_part_by_part_reads_all_housings_first():
    check = parse_plan(BEARINGS.replace("[check.axes]", 'order = "part by part"\n[check.axes]')).checks[0]
    assert [position.get("part") for position in check.positions] == ["housing"] * 5 + ["journal"] * 5


def test_part_is_read_in_the_unit_of_its_nominal_size():
    check = parse_plan(BEARINGS).checks[0]
    assert check.unit_at(check.positions[0]) is Unit.INCH
    assert check.unit is Unit.THOU
    low, high = check.window(check.positions[0])
    assert low.mm < length("2.225", "in").mm < high.mm
    assert low.unit is Unit.INCH


def test_part_is_looked_for_within_ten_tolerances_so_that_another_size_is_asked_about():
    """2.25 is read beside a shell of 2.448: a digit was lost, and a fifth to either side would not tell."""
    text = BEARINGS.replace('"2.225 in"', '"2.448 in"')
    check = parse_plan(text).checks[0]
    low, high = check.window(check.positions[0])
    target = check.target(check.positions[0])
    assert high.mm - low.mm == 10 * (target.upper.mm - target.lower.mm)
    assert not low.mm <= length("2.25", "in").mm <= high.mm


def test_shim_is_looked_for_among_those_that_can_be_had():
    check = parse_plan(LASH).checks[0]
    low, high = check.window(check.positions[0])
    assert (low, high) == (length("2.00", "mm"), length("3.00", "mm"))


def test_instrument_of_a_part_is_its_own():
    check = parse_plan(BEARINGS).checks[0]
    housing, journal = check.positions[:2]
    assert check.instrument_for(housing).name == "micrometer"
    assert check.instrument_for(journal) is None


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("2 shell", "2 shelf", 'no part of this check; did you mean "shell"'),
        ("- 2 shell ", "", 'the part "shell" is not in the formula'),
        ("2 shell", "1/3 shell", "no finite decimal"),
        ('nominal = "2.1 in"', "", 'the part "journal" has no "nominal"'),
        ('nominal = "2.1 in"', 'nominal = "2.1 in"\ngiven = "2.1 in"', 'take "nominal" out'),
        ('nominal = "2.1 in"', 'nominal = "-2.1 in"', "isn't above zero"),
        ('name = "journal"', 'name = "shell"', 'the part "shell" stands there twice'),
        ('instrument = "micrometer"', 'instrument = "micrometre"', 'did you mean "micrometer"'),
        ('standard = "0.1 thou"', "", 'needs one of "standard", "expanded" or "within"'),
        ('standard = "0.1 thou"', 'standard = "0.1 thou"\nwithin = "1 thou"', "no more than one"),
        ('standard = "0.1 thou"', 'standard = "-0.1 thou"', "isn't above zero"),
        ('rule = "difference"', 'rule = "limits"', "reads no parts"),
        ('rule = "difference"', 'rule = "difference"\ncorrelation = 2', "no correlation"),
        ('rule = "difference"', 'rule = "difference"\nwindow = [1, 2]', "write a window in each"),
        ('lower = "1.5 thou"', 'lower = "-1.5 thou"', "signed = true"),
        ('lower = "1.5 thou"', 'lower = "0.05 mm"', "in two units, so no exact middle"),
        ('lower = "1.5 thou"', "", 'no "aim"'),
        ('lower = "1.5 thou"', 'factor = "0.0045"', "only a gap to file comes from a factor"),
        ('rule = "difference"', 'rule = "difference"\nbores_from = "x"', "only a check of gaps to file"),
    ],
)
def test_difference_that_cannot_be_says_why(old, new, says):
    assert says in fault(BEARINGS, old, new)


def test_two_parts_without_formula_are_first_less_second():
    text = BEARINGS.replace('formula = "housing - 2 shell - journal"\n', "").replace(
        '[[check.part]]\nname = "shell"\ngiven = "0.0612 in"\n', ""
    )
    assert [part.times for part in parse_plan(text).checks[0].parts] == [Fraction(1), Fraction(-1)]


def test_one_part_is_too_few():
    text = (
        BEARINGS[: BEARINGS.index('[[check.part]]\nname = "shell"')]
        + "[[check.target]]\nlower = 1\nupper = 2\n"
    )
    assert "needs at least two" in fault(text)


def test_shims_are_a_series_with_exact_steps():
    check = parse_plan(LASH).checks[0]
    assert check.rule is Rule.SHIM
    assert len(check.shims) == 21
    assert check.shims[13] == length("2.65", "mm")
    assert [part.times for part in check.parts] == [1, 1]
    low, high = check.window(check.positions[1])
    assert (low.value, high.value) == (0, length("0.4", "mm").value)


def test_shims_may_be_listed_in_any_order_and_unit():
    text = LASH.replace(
        'least = "2.00 mm"\nmost = "3.00 mm"\nstep = "0.05 mm"', 'sizes = ["100 thou", 2.5, 2.54]'
    )
    assert [size.mm for size in parse_plan(text).checks[0].shims] == [Fraction("2.5"), Fraction("2.54")]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('step = "0.05 mm"', 'step = "0 mm"', "there is no series"),
        ('step = "0.05 mm"', 'step = "0.0001 mm"', "that would be 10001 sizes"),
        ('step = "0.05 mm"', 'step = "2 thou"', "the series mixes units"),
        ('step = "0.05 mm"', "", 'a series of shims needs "step"'),
        ('least = "2.00 mm"', 'least = "-2 mm"', "a shim of nothing or less"),
        ("[check.shims]\nleast", "[check.shim]\nleast", 'did you mean "shims"'),
        ('unit = "mm"', 'unit = "mm"\nformula = "shim - lash"', "is the lash and counts once"),
    ],
)
def test_shims_that_cannot_be_say_why(old, new, says):
    assert says in fault(LASH, old, new)


def test_shims_in_another_rule_are_refused():
    assert "picks no shims" in fault(DECK + "[check.shims]\nsizes = [1]\n")


def test_ticks_have_positions_and_no_targets():
    check = parse_plan(TICKS).checks[0]
    assert [position.key for position in check.positions] == ["item rings clocked", "item rods torqued"]
    with pytest.raises(KeyError):
        check.target(check.positions[0])
    assert "has no target" in fault(TICKS + "[[check.target]]\naim = 1\nplus = 1\n")


def test_deck_may_be_below_zero_where_the_plan_says_so():
    check = parse_plan(DECK).checks[0]
    target = check.target(check.positions[0])
    assert target.aim == length("0.1", "mm")
    low, high = check.window(check.positions[0])
    assert low.mm <= target.lower.mm
    assert high.mm >= target.upper.mm
    assert "signed = true" in fault(DECK, "signed = true\n")


def test_lower_limit_of_zero_needs_no_sign():
    text = DECK.replace("signed = true\n", "").replace("-0.10 mm", "0 mm")
    check = parse_plan(text).checks[0]
    assert check.window(check.positions[0])[0].value == 0


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ("[feelers]\nleaves = []\n", "empty"),
        ("[feelers]\nleaves = [1, 1.0]\n", "stands there twice"),
        ("[feelers]\nleaves = [0]\n", "isn't above zero"),
        ('[filing]\nrisk = "60 %"\n', "no such chance"),
        (
            '[hot]\nring = "ductil iron"\nbore = "steel"\nring_rise = 1\nbore_rise = 1\nmargin = "1 thou"\n',
            'did you mean "ductile iron"',
        ),
        (
            '[hot]\nring = "steel"\nbore = "steel"\nring_rise = [2, 1]\nbore_rise = 1\nmargin = "1 thou"\n',
            "the lesser first",
        ),
        (
            '[hot]\nring = "steel"\nbore = 1\nring_rise = 1\nbore_rise = 1\nmargin = "1 thou"\n',
            "no metal expands",
        ),
        (
            '[hot]\nring = "steel"\nbore = "steel"\nring_rise = 9999\nbore_rise = 1\nmargin = "1 thou"\n',
            "can't be",
        ),
    ],
)
def test_drawer_that_cannot_be_says_why(extra, says):
    assert says in fault(DECK + extra)


def test_leaves_are_sorted_and_keep_their_figures():
    plan = parse_plan(DECK + '[feelers]\nunit = "mm"\nleaves = [0.10, 0.05, "4 thou"]\n')
    assert [str(leaf) for leaf in plan.leaves] == ["0.05 mm", "0.1 mm", "4 thou"]


def test_only_a_single_measured_shim_can_be_used_again():
    from tests.dialogue.rules import HEAD, LASH

    text = HEAD + LASH.replace('step = "0.05 mm"', 'step = "0.05 mm"\nreuse = true')
    assert parse_plan(text).checks[0].reuse
    with pytest.raises(PlanError, match=r"reuse: only where one measured shim and a lash are the parts"):
        parse_plan(text.replace('nominal = "2.60 mm"', 'given = "2.60 mm"'))
