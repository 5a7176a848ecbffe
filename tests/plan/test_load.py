"""Reading a plan: what is built, and the one sentence for each thing that can't be."""

import hashlib
import re

import pytest

from handsfree.errors import PlanError
from handsfree.length import Unit, length
from handsfree.plan import Axis, Rule
from handsfree.planfile import load_plan, parse_plan

pytestmark = pytest.mark.quick


def fault(changed, *swaps):
    with pytest.raises(PlanError) as caught:
        changed(*swaps)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.startswith("bench.toml")
    return sentence


def test_plan_keeps_its_text_and_digest(changed, plan_text):
    plan = changed()
    assert plan.text == plan_text
    assert plan.digest == hashlib.sha256(plan_text.encode()).hexdigest()
    assert str(plan.engine) == "Test engine"


def test_check_has_its_axes_and_unit(changed):
    (check,) = changed().checks
    assert check.rule is Rule.FILE_TO_GAP
    assert check.unit is Unit.THOU
    assert check.axes == (Axis("cylinder", ("1", "2", "3", "4")), Axis("ring", ("top", "second")))


def test_ring_by_ring_does_all_tops_before_the_seconds(changed):
    keys = [position.key for position in changed().checks[0].positions]
    assert keys[:2] == ["cylinder 1, ring top", "cylinder 2, ring top"]
    assert keys[4] == "cylinder 1, ring second"
    assert len(set(keys)) == 8


def test_cylinder_by_cylinder_is_what_no_order_means(changed):
    said = changed(('order = "ring by ring"', 'order = "cylinder by cylinder"'))
    silent = changed(('order = "ring by ring"\n', ""))
    keys = [position.key for position in silent.checks[0].positions]
    assert keys[:2] == ["cylinder 1, ring top", "cylinder 1, ring second"]
    assert said.checks[0].positions == silent.checks[0].positions


def test_labels_may_be_a_list(changed):
    plan = changed(("cylinder = 4", 'cylinder = [2, 4, "six"]'))
    assert plan.checks[0].axes[0].labels == ("2", "4", "six")


def test_unknown_check_names_the_nearest(changed):
    with pytest.raises(PlanError, match='no check "ring gap"; did you mean "ring gaps"'):
        changed().check("ring gap")


@pytest.mark.parametrize(
    ("swap", "place", "says"),
    [
        (("aim =", "amm ="), "line 20, check[1].target[1].amm", 'no key "amm" here; did you mean "aim"'),
        (("rule =", "rulle ="), "line 10, check[1].rulle", 'did you mean "rule"'),
        (('name = "Test engine', 'nmae = "x'), "line 5, engine.nmae", 'did you mean "name"'),
        (('name = "Test bench', 'title = "x'), "line 2, title", "there is no key"),
        (("[engine]", "[engin]"), "line 4, engin", 'did you mean "engine"'),
        (('"18 thou"', '"-18 thou"'), "line 20, check[1].target[1].aim", "isn't above zero"),
        (('"18 thou"', '"0 thou"'), "check[1].target[1].aim", "isn't above zero"),
        (('"18 thou"', '"18 tou"'), "check[1].target[1].aim", 'did you mean "thou"'),
        (('"18 thou"', '"18 in"'), "line 18, check[1].target[1]", "more than a ring in a bore"),
        (('"18 thou"', "0.018"), "check[1].target[1]", "too little for a ring in a bore"),
        (('"18 thou"', "true"), "check[1].target[1].aim", "true won't do here"),
        (('"4.030 in"', '"96 in"'), "line 6, engine.bore", "no engine has a bore of 96 in"),
        (('"4.030 in"', '"4.030 mm"'), "engine.bore", "no engine has a bore of 4.030 mm"),
        (('"4.030 in"', '"-4.030 in"'), "engine.bore", "no engine has a bore"),
        (('"4.030 in"', "4.03"), "engine.bore", "has no unit"),
        (('plus = "1.5 thou"', 'plus = "-1.5 thou"'), "line 21, check[1].target[1].plus", "below zero"),
        (('plus = "1.5 thou"', 'upper = "17 thou"'), "check[1].target[1]", "above the upper limit 17 thou"),
        (
            ('plus = "1.5 thou"', 'upper = "19 thou"\nlower = "18.5"'),
            "check[1].target[1]",
            "aim 18 thou isn't",
        ),
        (('plus = "1.5 thou"', "plus = 1\nupper = 19"), "target[1].plus", '"plus" and "upper" say the same'),
        (('plus = "1.5 thou"\n', ""), "check[1].target[1]", "no upper limit"),
        (('aim = "18 thou"\n', ""), "check[1].target[1]", 'the target has no "aim"'),
        (('ring = "second"\naim', 'ring = "third"\naim'), "target[2].ring", "third"),
        (('ring = "second"\naim', 'ring = "top"\naim'), "target[2]", "two targets fit cylinder 1, ring top"),
        (('ring = "second"\naim', 'rung = "second"\naim'), "target[2].rung", 'did you mean "ring"'),
        (
            ('ring = "top"\naim', 'ring = "top"\ncylinder = 1\naim'),
            "check[1]",
            "cylinder 2, ring top has no tar",
        ),
        (('"top", "second"]', '"top", "top"]'), "line 16, check[1].axes.ring", '"top" stands there twice'),
        (('"top", "second"]', '"top", "Second!"]'), "axes.ring", "can't be spoken as a label"),
        (('["top", "second"]', "[]"), "axes.ring", "empty"),
        (("cylinder = 4", "cylinder = 0"), "line 15, check[1].axes.cylinder", "there can't be 0"),
        (("cylinder = 4", "cylinder = 1000"), "axes.cylinder", "there can't be 1000"),
        (("cylinder = 4", 'cylinder = ["top"]'), "axes.ring", '"top" is a label of cylinder too'),
        (("cylinder = 4", "aim = 4"), "axes.aim", "can't be named"),
        (("cylinder = 4", "part = 4"), "axes.part", "can't be named"),
        (('unit = "thou"', 'unit = "thuo"'), "line 11, check[1].unit", 'did you mean "thou"'),
        (('rule = "file to gap"', 'rule = "file the gap"'), "check[1].rule", 'did you mean "file to gap"'),
        (('"ring by ring"', '"rings"'), "check[1].order", "cylinder by cylinder, ring by ring"),
        (('name = "ring gaps"', 'name = "Ring-Gaps!"'), "check[1].name", "can't be spoken"),
        (("format = 1", "format = 2"), "line 1, format", "use a newer handsfree"),
        (("format = 1", "format = 0"), "format", "there is no format 0"),
        (('name = "Test bench"', 'name = "a\\u202eb"'), "line 2, name", "write it in plain printable words"),
        (('name = "Test bench"', 'name = "  "'), "line 2, name", "write it in plain printable words"),
        (("format = 1\n", ""), "format", "is missing"),
        (("format = 1", 'format = "1"'), "format", "write a whole number"),
        (("format = 1", "format = 1\nconfidence = 1.5"), "confidence", "no such chance"),
        (("format = 1", 'format = 1\nacceptance = "guardd"'), "acceptance", 'did you mean "guarded"'),
        (("[[check]]", "[check]"), "check", "write a list"),
        (('bore = "4.030 in"', 'bore = "4.030 in"\nduty = "raod"'), "engine.duty", 'did you mean "road"'),
        (
            ('bore = "4.030 in"', 'bore = "4.030 in"\nbores."9" = "4 in"'),
            "bores.9",
            'no check has a cylinder "9"',
        ),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence_with_its_place(changed, swap, place, says):
    sentence = fault(changed, swap)
    assert place in sentence
    assert says in sentence


def test_two_checks_of_one_name_are_refused(changed, plan_text):
    again = plan_text[plan_text.index("[[check]]") :]
    sentence = fault(changed, (again, again + again))
    assert 'check[2].name: two checks are named "ring gaps"' in sentence


def test_torn_file_says_where(plan_text):
    with pytest.raises(PlanError, match=r"bench.toml: this is no whole TOML file: .*line 16"):
        parse_plan(plan_text[: plan_text.index('second"]')] + "\n[[che", "bench.toml")


def test_every_torn_beginning_gives_a_plan_or_one_sentence(plan_text):
    sentences = []
    for end in range(len(plan_text)):
        try:
            parse_plan(plan_text[:end], "bench.toml")
        except PlanError as error:
            sentences.append(str(error))
    assert len(sentences) > len(plan_text) // 2
    wrong = [said for said in sentences if not re.fullmatch(r"bench\.toml[,:] [^\n]+", said)]
    assert wrong == []


def test_missing_file_and_folder_and_binary_say_so(tmp_path):
    with pytest.raises(PlanError, match="there is no such plan file"):
        load_plan(tmp_path / "none.toml")
    with pytest.raises(PlanError, match="can't be read"):
        load_plan(tmp_path)
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PlanError, match="no text in UTF-8"):
        load_plan(tmp_path / "bad.toml")
    (tmp_path / "deep.toml").write_text("a = " + "[" * 5000)
    with pytest.raises(PlanError, match=r"nested too deep|no whole TOML|too long for a plan"):
        load_plan(tmp_path / "deep.toml")


def test_the_most_fitting_target_wins(changed):
    plan = changed(
        (
            '[[check.target]]\nring = "second"',
            '[[check.target]]\nring = "top"\ncylinder = [2, 3]\naim = 19\nplus = 1\n'
            '[[check.target]]\nring = "second"',
        ),
    )
    check = plan.checks[0]
    aims = {position.key: check.target(position).aim for position in check.positions}
    assert aims["cylinder 1, ring top"] == length("18")
    assert aims["cylinder 2, ring top"] == length("19")
    assert aims["cylinder 2, ring second"] == length("20")


def test_unknown_position_has_no_target(changed):
    check = changed().checks[0]
    with pytest.raises(KeyError):
        check.target(type(check.positions[0]).of({"cylinder": "9", "ring": "top"}))


def test_window_is_a_quarter_to_two_and_a_half_times_the_aim(changed):
    check = changed().checks[0]
    assert check.window(check.positions[0]) == (length("4.50"), length("45.0"))


def test_window_may_be_set(changed):
    check = changed(('order = "ring by ring"', 'window = ["2 thou", "1 mm"]')).checks[0]
    assert check.window(check.positions[0]) == (length("2"), length("1", "mm"))


@pytest.mark.parametrize("window", ['["2 thou"]', '["3 thou", "2 thou"]', "[1, 2, 3]"])
def test_window_that_is_none_is_refused(changed, window):
    sentence = fault(changed, ('order = "ring by ring"', f"window = {window}"))
    assert "a window is two lengths" in sentence
