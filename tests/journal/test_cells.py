"""What a cell may hold is what the rest of the program writes into it."""

import pytest

from handsfree.journal import cells
from handsfree.judge import State

pytestmark = pytest.mark.quick


def test_the_verdicts_that_may_be_kept_are_those_that_the_judge_gives():
    """The journal knows nothing of judging, so it has a list of its own."""
    assert {state.value for state in State} == cells._VERDICTS
    assert [cells.verdict_of(state.value) for state in State] == [state.value for state in State]
    for other in ("", "Good", "perhaps", 1):
        with pytest.raises(ValueError, match="its verdict is"):
            cells.verdict_of(other)
