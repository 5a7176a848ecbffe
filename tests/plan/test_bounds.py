"""Plans that no person writes get one sentence, soon."""

import time

import pytest

from handsfree.errors import PlanError
from handsfree.planfile import parse_plan
from tests.support.journals import TWO_RINGS

pytestmark = pytest.mark.quick
GOOD = TWO_RINGS.format(name="a", engine="b", cylinders=4)
AXES = 'cylinder = 4\nring = ["top", "second"]'
HUNDRED_THOUSAND = ", ".join(f'"l{number}"' for number in range(100_000))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace(AXES, "cylinder = 99\nring = 99\nside = 99"), "970299 positions"),
        (GOOD.replace("cylinder = 4\nring", f"cylinder = [{HUNDRED_THOUSAND}]\nring"), "too long"),
        (
            GOOD.replace(
                "cylinder = 4\nring", "cylinder = [" + HUNDRED_THOUSAND.replace(", ", ",\n") + "]\nring"
            ),
            "letters, so it is no plan|can't be 100000 labels",
        ),
        (
            GOOD.replace("cylinder = 4\nring", "cylinder = [\n" + '"a",\n' * 50_000 + "]\nring"),
            "can't be 50000 labels",
        ),
        (GOOD + "x." * 100_000 + "y = 1\n", "too long"),
        (GOOD + ("x." * 1_900 + "y = 1\n") * 200, "no whole TOML|no key"),
        (GOOD + "# " + "\n# a" * 400_000, "no plan"),
    ],
    ids=["positions", "line", "labels", "many labels", "dotted", "dotted lines", "large"],
)
def test_what_no_person_writes_gets_a_sentence_soon(text, said):
    began = time.process_time()
    with pytest.raises(PlanError, match=said) as fault:
        parse_plan(text)
    assert time.process_time() - began < 5
    assert len(str(fault.value)) < 500
