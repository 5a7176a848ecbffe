"""Finding journals, comparing two, and statistics over many."""

from datetime import date, datetime, timedelta, timezone
from itertools import pairwise

import pytest

from handsfree.errors import JournalError
from handsfree.export import bins, capability, catalogue, compare, find, samples
from handsfree.journal import Draft, Journal, Kind, LeafSide
from handsfree.length import length
from handsfree.session import read
from tests.support import journals

pytestmark = pytest.mark.quick


def session(path, *values, engine="Bench twin", day=25):
    """A journal of single readings, one to each position in order."""
    plan = journals.plan(2, engine=engine)
    began = datetime(2026, 11, day, 8, 0, tzinfo=timezone(timedelta(hours=1)))
    with Journal.open(path, clock=journals.clock(began=began)) as journal:
        from handsfree.session import opening

        journal.append(opening(plan, who="J. Marten"))
        for position, value in zip(plan.checks[0].positions, values, strict=False):
            if value is not None:
                journals.measure(journal, plan, position, value)
    return path


def test_journals_are_found_by_content_not_by_name(tmp_path):
    session(tmp_path / "b")
    session(tmp_path / "a.txt")
    (tmp_path / "c.journal").write_text("not one")
    (tmp_path / "folder").mkdir()
    assert [path.name for path in find([tmp_path])] == ["a.txt", "b"]
    with pytest.raises(JournalError, match="There is no journal or folder"):
        list(find([tmp_path / "nowhere"]))


def test_a_catalogue_sums_up_the_oldest_first_and_can_be_narrowed(tmp_path):
    session(tmp_path / "new", "18", "20", engine="Heron", day=25)
    session(tmp_path / "old", "18", "18.5", "19", "18", engine="Bench twin", day=20)
    found, unreadable = catalogue([tmp_path])
    assert unreadable == []
    assert [(one.path.name, one.done, one.places) for one in found] == [("old", 4, 6), ("new", 2, 6)]
    assert found[1].verdicts == {"good": 1, "over": 1}
    assert (found[0].who, found[0].finished) == ("J. Marten", False)
    assert found[0].began.isoformat().startswith("2026-11-20T08:00")
    assert [one.path.name for one in catalogue([tmp_path], engine="HERON")[0]] == ["new"]
    assert [one.path.name for one in catalogue([tmp_path], since=date(2026, 11, 21))[0]] == ["new"]
    assert [one.path.name for one in catalogue([tmp_path], until=date(2026, 11, 20))[0]] == ["old"]


def test_a_journal_that_cannot_be_read_is_named_and_the_others_are_listed(tmp_path):
    session(tmp_path / "good", "18")
    Journal.open(tmp_path / "empty").close()
    found, unreadable = catalogue([tmp_path])
    assert [one.path.name for one in found] == ["good"]
    assert [one.path.name for one in unreadable] == ["empty"]
    assert "is empty: nothing was logged" in unreadable[0].sentence


def test_comparing_pairs_the_same_places_and_gives_the_exact_change(tmp_path):
    before = read(session(tmp_path / "before", "18.1", "18", None))
    after = read(session(tmp_path / "after", "19.35", None, "18"))
    pairs = compare(before, after)
    assert len(pairs) == 6
    assert pairs[0].change == length("1.25")
    assert [pair.change for pair in pairs[1:]] == [None] * 5
    assert (pairs[1].before.text, pairs[1].after.text) == ("18 thou", "")


def test_comparing_with_another_plan_shows_what_only_one_has(tmp_path):
    small, large = tmp_path / "small", tmp_path / "large"
    session(small, "18")
    with Journal.open(large, clock=journals.clock()) as journal:
        journals.log_many(journal, journals.plan(3), 6)
    pairs = compare(read(large), read(small))
    assert sum(pair.after is None for pair in pairs) == 3
    assert sum(pair.before is None for pair in pairs) == 0


def test_samples_gather_figures_by_check_and_limits_over_sessions(tmp_path):
    recorded = [
        read(session(tmp_path / name, *values)) for name, values in (("a", ["18", "19"]), ("b", ["20"]))
    ]
    (sample,) = samples(recorded)
    assert [str(figure) for figure in sample.figures] == ["18 thou", "19 thou", "20 thou"]
    assert (sample.sessions, sample.left_out, sample.limits) == (2, 5, (18.0, 19.5))
    assert sample.name == "ring gaps, 18 to 19.5 thou"
    assert samples(recorded, "washed") == []
    found = capability(sample.values, sample.limits)
    assert (found.n, found.within, found.mean, found.deviation) == (3, 2, 19.0, 1.0)


def test_a_bound_is_left_out_of_statistics(tmp_path):
    with Journal.open(session(tmp_path / "j", "18", "19")) as journal:
        position = journals.plan(2).checks[0].positions[0]
        journal.append(Draft(Kind.READING, "ring gaps", position, length("18"), bound=LeafSide.OVER))
    (sample,) = samples([read(tmp_path / "j")])
    assert [str(figure) for figure in sample.figures] == ["19 thou"]


@pytest.mark.parametrize("values", [[], [18.5]])
def test_too_few_figures_give_no_capability(values):
    found = capability(values, (18, 19.5))
    assert (found.n, found.deviation, found.cp, found.cpk, found.mean_interval) == (len(values), *[None] * 4)


def test_figures_without_spread_have_no_capability_rather_than_an_endless_one():
    found = capability([18.5] * 5, (18, 19.5))
    assert (found.deviation, found.cp, found.cpk) == (0.0, None, None)


def test_values_on_the_limits_are_inside():
    assert capability([18, 19.5, 17.999, 19.501], (18, 19.5)).within == 2


@pytest.mark.parametrize(
    ("values", "limits"),
    [
        ([18.0, 18.5, 19.0], (18.0, 19.5)),
        ([0.1, 0.2, 0.3], (0.0, 0.3)),
        ([5.0], (5.0, 5.0)),
        ([-3.0, 900.0], (1, 2)),
    ],
)
def test_bins_hold_every_value_once_and_cover_the_limits(values, limits):
    counted = bins(values, limits)
    assert sum(count for _, _, count in counted) == len(values)
    assert counted[0][0] <= min(*values, *limits) + 1e-9
    assert counted[-1][1] > max(*values, *limits) - 1e-9
    assert len(counted) <= 18
    assert all(first[1] == pytest.approx(second[0]) for first, second in pairwise(counted))
