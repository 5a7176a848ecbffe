"""Stacks of feeler leaves against integer programming by scipy.optimize.milp."""

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from handsfree.judge.leaves import stack_for
from handsfree.length import length

pytestmark = pytest.mark.quick

TENTHS = np.array([15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200, 250])
LEAVES = tuple(length(str(tenth / 10)) for tenth in TENTHS.tolist())


@pytest.mark.parametrize("tenths", range(15, 305, 5))
def test_leaf_count_is_the_least_that_integer_programming_finds(tenths):
    found = milp(
        np.ones(len(TENTHS)),
        constraints=LinearConstraint(TENTHS[None, :], tenths, tenths),
        integrality=1,
        bounds=Bounds(0, 1),
    )
    stack = stack_for(length(str(tenths / 10)), LEAVES)
    assert found.success
    assert stack is not None
    assert len(stack.leaves) == round(found.fun)
    assert sum(leaf.value for leaf in stack.leaves) * 10 == tenths
