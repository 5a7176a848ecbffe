"""The file that keeps what was learned of a voice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.adapt import (
    Adaptation,
    adaptation_path,
    load_adaptation,
    remove_adaptation,
    save_adaptation,
    text_of,
)
from handsfree.errors import AdaptationError
from handsfree.understand import Thresholds

pytestmark = pytest.mark.quick

LEARNED = Adaptation(
    forms={("thou",): ("tau", "dow"), ("say", "again"): ("see a gain",), ("what's",): ("wots",)},
    pace=-0.125,
    sure_fit=-0.3,
    sure_margin=3.61,
    speech_db=-27.5,
    recordings=20,
    made="2026-11-25T09:00:00Z",
    recogniser="phrase/adapted",
    before={"right": 17, "wrong": 1, "asked": 2, "ignored": 0},
    after={"right": 19, "wrong": 0, "asked": 1, "ignored": 0},
)


def test_it_is_kept_in_the_users_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert load_adaptation() is None
    assert save_adaptation(LEARNED) == tmp_path / "handsfree" / "adaptation.toml" == adaptation_path()
    assert load_adaptation() == LEARNED
    assert [path.name for path in adaptation_path().parent.iterdir()] == ["adaptation.toml"]
    assert remove_adaptation()
    assert load_adaptation() is None
    assert not remove_adaptation()


def test_this_suite_never_sees_the_users_own() -> None:
    assert "handsfree-tests-" in str(adaptation_path())


def test_one_that_changes_nothing_says_so() -> None:
    assert Adaptation(recordings=20, speech_db=-20.0).changes_nothing
    assert Adaptation().thresholds == Thresholds()
    for change in ({"forms": {("thou",): ("tau",)}}, {"pace": 0.1}, {"sure_fit": -0.6}, {"sure_margin": 3.5}):
        assert not replace(Adaptation(), **change).changes_nothing  # type: ignore[arg-type]


def written(folder: Path, text: str) -> Path:
    path = folder / "adaptation.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (text_of(LEARNED).partition("3.61")[0], "this is no whole TOML file"),
        (text_of(LEARNED).partition("[thresholds]")[0], 'is torn: its last line, "# end", is missing'),
        ("", "wanted format = 1, found None"),
        ("format = true", "wanted format = 1, found True"),
        ("format = 2\nmade = 'later'", "reads up to format 1; use a newer handsfree"),
        ('format = 1\n[forms]\nthou = "tau"', r"\[forms\] thou: wanted a list of texts"),
        ("format = 1\n[forms]\nthou = [1]", r"\[forms\] thou: wanted a list of texts"),
        ("format = 1\nforms = 3", r"wanted a table \[forms\], found 3"),
        ("format = 1\n[pace]\nshift = 3.0", "shift = 3.0 is no number from -0.3 to 0.3"),
        ("format = 1\n[pace]\nshift = nan", "shift = nan is no number"),
        ("format = 1\n[thresholds]\nsure_margin = -1", "sure_margin = -1 is no number from 0 to 9"),
        ('format = 1\n[thresholds]\nsure_fit = "low"', "sure_fit = 'low' is no number from -2 to 0"),
        ("format = 1\nrecordings = -3", "recordings = -3 is no count"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    path = written(tmp_path, text if text.startswith("#") else f"{text}\n# end\n")
    with pytest.raises(AdaptationError, match=said) as refused:
        load_adaptation(path)
    assert str(path) in str(refused.value)
    assert "handsfree adapt" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "adaptation.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(AdaptationError, match="no text in UTF-8"):
        load_adaptation(path)


def test_a_folder_in_its_place_is_refused(tmp_path: Path) -> None:
    with pytest.raises(AdaptationError, match="can't be read"):
        load_adaptation(tmp_path)
    with pytest.raises(AdaptationError, match="can't be written"):
        save_adaptation(LEARNED, tmp_path)
    with pytest.raises(AdaptationError, match="can't be removed"):
        remove_adaptation(tmp_path)


def test_the_file_says_what_it_is_and_how_to_be_rid_of_it() -> None:
    text = text_of(LEARNED)
    assert "handsfree adapt --undo" in text
    assert '"say again" = ["see a gain"]' in text
