"""What is kept of a person between sessions."""

from datetime import date

import pytest

from handsfree.preferences import Preferences, load_preferences, save_preferences

pytestmark = pytest.mark.quick

TODAY, TOMORROW = date(2026, 11, 30), date(2026, 12, 1)


def test_what_was_set_is_there_the_next_time(tmp_path):
    kept = Preferences(190, 0.5).with_told("A. Fitter", "eight", TODAY)
    save_preferences(kept, tmp_path / "new" / "preferences.json")
    assert load_preferences(tmp_path / "new" / "preferences.json") == kept


def test_cautions_count_as_told_for_one_person_and_plan_and_day():
    kept = Preferences().with_told("A. Fitter", "eight", TODAY)
    assert kept.cautioned("A. Fitter", "eight", TODAY)
    assert not kept.cautioned("A. Fitter", "eight", TOMORROW)
    assert not kept.cautioned("A. Fitter", "six", TODAY)
    assert not kept.cautioned("", "eight", TODAY)
    assert list(kept.with_told("", "six", TOMORROW).told.values()) == ["2026-12-01"]


@pytest.mark.parametrize(
    "text", ["", "[1]", "{", '{"words_per_minute": 9000, "volume": "loud", "told": 3}', "\x00"]
)
def test_damaged_file_counts_as_nothing_set(tmp_path, text):
    path = tmp_path / "preferences.json"
    path.write_text(text)
    assert load_preferences(path) == Preferences()


def test_folder_that_cannot_be_written_stops_nobody(tmp_path):
    (tmp_path / "file").write_text("x")
    save_preferences(Preferences(190), tmp_path / "file" / "preferences.json")
    assert list(tmp_path.iterdir()) == [tmp_path / "file"]


def test_what_a_session_changed_of_the_voice_is_kept_and_nothing_else():
    kept = Preferences(None, 0.5)
    assert kept.with_voice((165, 0.8), (165, 0.8)) == kept
    assert kept.with_voice((165, 0.8), (185, 0.8)) == Preferences(185, 0.5)
    assert kept.with_voice((165, 0.8), (165, 1.0)) == Preferences(None, 1.0)
