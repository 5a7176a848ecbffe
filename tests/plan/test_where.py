"""Finding the line of a key."""

import pytest

from handsfree.planfile.source import dotted, line_of

pytestmark = pytest.mark.quick

TEXT = """\
format = 1
[engine]
name = "a"            # line 3
bores."3" = "4 in"
[[check]]
name = "one"
[check.axes]
cylinder = 8
[[check.target]]
aim = 1
[[check.target]]
aim = 2
[[check]]
name = "two"
[[check.target]]      # the first of the second check
aim = 3
"""


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("format",), 1),
        (("engine", "name"), 3),
        (("engine", "bores", "3"), 4),
        (("check", 0, "name"), 6),
        (("check", 0, "axes", "cylinder"), 8),
        (("check", 0, "target", 1, "aim"), 12),
        (("check", 1, "target", 0), 15),
        (("check", 1, "target", 0, "aim"), 16),
        (("check", 1, "target", 0, "missing"), 15),
        (("nothing",), None),
    ],
)
def test_line_of_a_key_or_of_the_table_around_it(place, line):
    assert line_of(TEXT, place) == line


def test_path_is_written_as_a_person_counts():
    assert dotted(("check", 1, "target", 0, "aim")) == "check[2].target[1].aim"
