"""What is kept of a person between two sessions at the bench."""

import argparse
from pathlib import Path

import pytest

from handsfree.commands.bench_front import VOLUME, _told_today, bench_options
from handsfree.commands.bench_options import add_bench_options
from handsfree.commands.recogniser_options import add_recogniser
from handsfree.plan import load_plan
from handsfree.preferences import load_preferences
from handsfree.record import Journal, opening
from handsfree.speak.voice import TERSE_WORDS_PER_MINUTE, WORDS_PER_MINUTE

pytestmark = pytest.mark.quick

PLAN = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")


@pytest.fixture(autouse=True)
def own_data(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def typed(*words):
    parser = argparse.ArgumentParser()
    add_bench_options(parser)
    add_recogniser(parser)
    return parser.parse_args(words)


def test_rate_and_volume_that_were_set_hold_in_the_next_session():
    first = bench_options(typed("--rate", "210", "--volume", "0.4"))
    again = bench_options(typed())
    for options in (first, again):
        assert (options.voice.words_per_minute, options.volume) == (210, 0.4)


def test_nothing_set_is_the_usual_rate_and_terse_answers_are_faster():
    assert bench_options(typed()).voice.words_per_minute == WORDS_PER_MINUTE
    assert bench_options(typed("--answers", "terse")).voice.words_per_minute == TERSE_WORDS_PER_MINUTE
    assert bench_options(typed()).volume == VOLUME
    assert load_preferences().words_per_minute is None


@pytest.mark.parametrize("rate", ["0", "20", "9000", "fast"])
def test_rate_that_no_voice_has_is_one_sentence(rate, capsys):
    with pytest.raises(SystemExit):
        typed("--rate", rate)
    assert "a voice speaks 80 to 400 words a minute" in capsys.readouterr().err


def test_cautions_are_told_once_a_day_to_a_person_and_a_resumed_sheet_counts_nothing():
    fresh = Journal.in_memory()
    assert not _told_today(fresh, PLAN, typed("--who", "A. Fitter"))
    assert _told_today(fresh, PLAN, typed("--who", "A. Fitter"))
    assert not _told_today(fresh, PLAN, typed("--who", "B. Fitter"))
    begun = Journal.in_memory()
    begun.append(opening(PLAN))
    assert not _told_today(begun, PLAN, typed("--who", "A. Fitter"))
