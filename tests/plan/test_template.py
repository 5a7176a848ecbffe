"""Templates and the plans that answers make of them."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from handsfree.errors import PlanError
from handsfree.planfile import load_template, parse_plan, templates
from handsfree.planfile.template import parse_template
from handsfree.show import answer_fault, new_plan, new_plan_questions, template_list
from tests.plan.some_answers import HEAD, some_answers

pytestmark = pytest.mark.quick

OWN = """\
format = 1
name = "pin fit"
about = "pin in its piston"
text = '''
[[check]]
name = "pin fit"
rule = "limits"
unit = {unit}
[check.axes]
cylinder = {cylinders}
[[check.target]]
lower = {pin_least}
upper = {pin_most}
'''
[[ask]]
key = "pin_least"
ask = "Least clearance"
kind = "length"
[[ask]]
key = "pin_most"
ask = "Greatest clearance"
kind = "length"
"""


def test_the_trade_s_own_checks_have_templates():
    assert {name for name, _ in template_list()} >= {
        "ring gaps",
        "ring side clearance",
        "piston to bore",
        "main bearings",
        "rod bearings",
        "end float",
        "deck",
        "valve lash",
    }
    assert all(about for _, about in template_list())


@pytest.mark.parametrize("name", sorted(templates()))
def test_every_template_makes_a_plan(name):
    names = [name, "ring gaps"] if name == "tops tried" else [name]  # which are for their gaps
    more = {"duty": "road"} if "ring gaps" in names else {}
    plan = parse_plan(new_plan(names, some_answers(names, **more)))
    assert [check.name for check in plan.checks] == names


def test_all_templates_together_make_one_plan_and_ask_each_thing_once():
    names = [name for name, _ in template_list()]
    keys = [question.key for question in new_plan_questions(names)]
    assert len(keys) == len(set(keys))
    plan = parse_plan(new_plan(names, some_answers(names, duty="road")))
    assert [check.name for check in plan.checks] == names


def test_metric_answers_make_a_metric_plan():
    text = new_plan(
        ["ring gaps"], {**HEAD, "unit": "mm", "bore": "80.00 mm", "top_gap": "0.35", "second_gap": "0.4"}
    )
    assert 'maker = "0.35 mm"' in text
    assert 'plus = "0.04 mm"' in text
    assert 'bore = "80.00 mm"' in text


def test_empty_answer_leaves_its_line_out():
    text = new_plan(["ring gaps"], {**HEAD, "duty": "road", "second_gap": "21"})
    assert text.count("maker = ") == 1
    assert "duty" in text
    assert "duty" not in new_plan(["ring gaps"], {**HEAD, "top_gap": "18", "second_gap": "21"})


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"cylinders": "many"}, '"many" is no count'),
        ({"cylinders": "0"}, "no count"),
        ({"bore": "4.03"}, "has no unit"),
        ({"bore": "96 in"}, "no engine has a bore of 96 in"),
        ({"top_gap": "18 tou"}, 'did you mean "thou"'),
        ({"top_gap": "-18"}, "isn't above zero"),
        ({"duty": "rode"}, 'did you mean "road"'),
        ({"plan_name": ""}, "has no answer; write a few words"),
        ({"plan_name": "a\nb"}, "can't be written"),
        ({"colour": "red"}, "no question has the key"),
        ({"unit": "furlong"}, "none of the choices"),
    ],
)
def test_answer_that_will_not_do_says_so(changes, says):
    with pytest.raises(PlanError, match=says):
        new_plan(["ring gaps"], {**HEAD, "top_gap": "18", "second_gap": "20", **changes})


def test_answers_can_be_checked_one_by_one():
    by_key = {question.key: question for question in new_plan_questions(["ring gaps"])}
    assert answer_fault(by_key["bore"], "4.030 in") is None
    assert "has no unit" in answer_fault(by_key["bore"], "4.030")
    assert answer_fault(by_key["top_gap"], "", "thou") is None
    assert answer_fault(by_key["gap_plus"], "", "mm") is None


@settings(deadline=None)
@given(
    st.text(
        alphabet=st.characters(min_codepoint=32, max_codepoint=0x24F, exclude_characters="\x7f"),
        min_size=1,
        max_size=40,
    )
)
def test_any_words_can_name_a_plan_and_come_back_whole(words):
    assume(words.strip() and words.isprintable())
    text = new_plan(["end float"], some_answers(["end float"], plan_name=words))
    assert parse_plan(text).name == words.strip()


def test_unknown_template_names_the_nearest():
    with pytest.raises(PlanError, match='no template "ring gap"; did you mean "ring gaps"'):
        new_plan(["ring gap"], HEAD)
    with pytest.raises(PlanError, match="named twice"):
        new_plan(["deck", "deck"], HEAD)


def test_template_of_the_user_s_own_is_read_from_a_file(tmp_path):
    path = tmp_path / "pin.toml"
    path.write_text(OWN)
    own = [load_template(path)]
    text = new_plan([], {**HEAD, "pin_least": "0.2", "pin_most": "0.4"}, own)
    assert parse_plan(text).checks[0].name == "pin fit"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            "format = 1",
            "format = 2",
            "own.toml, line 1, format: this template has format 2.*use a newer handsfree",
        ),
        ("format = 1", "", "begins with format = 1"),
        ("about", "abuot", 'no key "abuot" here; did you mean "about"'),
        ('kind = "length"', 'kind = "lenght"', 'did you mean "length"'),
        ('key = "pin_least"\n', "", '"key" is missing'),
        ("[[ask]]", "[[ask", "no whole TOML file"),
    ],
)
def test_template_that_is_none_says_why(old, new, says):
    assert old in OWN
    with pytest.raises(PlanError, match=says):
        parse_template(OWN.replace(old, new, 1), "own.toml")


def test_missing_template_says_so(tmp_path):
    with pytest.raises(PlanError, match="no such template"):
        load_template(tmp_path / "none.toml")
    with pytest.raises(PlanError, match="can't be read as a template"):
        load_template(tmp_path)
