"""A first plan from five answers."""

import pytest

from handsfree.bench import Bench
from handsfree.errors import PlanError
from handsfree.journal import Journal
from handsfree.live import plan_text, questions, write_plan
from handsfree.planfile import load_plan

pytestmark = pytest.mark.quick


def answered(*keys):
    bench = Bench(questions(), Journal.in_memory(), cautions=False)
    assert bench.open().reply.text == "Ready. First, cylinders."
    for key in keys:
        bench.key(key)
    return bench.session


def test_five_answers_make_a_plan_that_loads(tmp_path):
    path = write_plan(plan_text(answered("8", "2", "18", "20", "1.5")), tmp_path)
    check = load_plan(path).checks[0]
    assert len(check.positions) == 16
    targets = {position.get("ring"): str(check.target(position)) for position in check.positions}
    assert targets == {
        "top": "18 thou (from 18 thou to 19.5 thou)",
        "second": "20 thou (from 20 thou to 21.5 thou)",
    }


def test_one_ring_needs_no_second_target(tmp_path):
    path = write_plan(plan_text(answered("4", "1", "17.5", "5*2")), tmp_path)
    check = load_plan(path).checks[0]
    assert [position.get("ring") for position in check.positions] == ["top"] * 4


def test_corrected_answer_counts(tmp_path):
    path = write_plan(plan_text(answered("8", "/6", "2", "18", "20", "1.5")), tmp_path)
    assert len(load_plan(path).checks[0].positions) == 12


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        (("8", "2", "18"), '"allowance" has no answer'),
        (("7.5", "2", "18", "20", "1.5"), "cylinders can't be 7.5; start again with a whole number"),
        ((), '"rings" has no answer'),
    ],
)
def test_answers_that_make_no_plan_are_one_sentence(keys, message):
    with pytest.raises(PlanError, match=message):
        plan_text(answered(*keys))


def test_plan_never_overwrites_another(tmp_path):
    names = [write_plan("x", tmp_path).name for _ in range(3)]
    assert names == ["new-plan.toml", "new-plan-2.toml", "new-plan-3.toml"]


def test_folder_that_isnt_there_is_one_sentence(tmp_path):
    with pytest.raises(PlanError, match="can't write the plan"):
        write_plan("x", tmp_path / "none")
