"""The pictures of the pages can be taken anew, and show what they are said to show."""

from __future__ import annotations

import io
import re
import shutil
import struct
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.page.browser import missing
from tests.pictures import PROGRAMS, display_svg, sheet_pdf, take
from tests.support.program import ROOT

KEPT = ROOT / "docs" / "pictures"
MOST_BYTES = 200_000


def size_of(png: Path) -> tuple[int, int]:
    """Width and height, as the head of a PNG has them (ISO/IEC 15948, 11.2.2; from memory)."""
    head = png.read_bytes()[:24]
    assert head.startswith(b"\x89PNG\r\n\x1a\n")
    return struct.unpack(">II", head[16:24])


@pytest.mark.quick
def test_pictures_are_small_and_each_is_on_a_page() -> None:
    pages = "".join(page.read_text("utf-8") for page in (ROOT / "README.md", *(ROOT / "docs").glob("*.md")))
    kept = sorted(KEPT.iterdir())
    assert [path.stem for path in kept] == ["bench", "card", "page-phone", "page-wide", "page", "sheet"]
    assert [path.name for path in kept if path.stat().st_size > MOST_BYTES] == []
    assert [path.name for path in kept if f"pictures/{path.name}" not in pages] == []


@pytest.mark.skipif(bool(missing()), reason=missing())
@pytest.mark.skipif(any(shutil.which(each) is None for each in PROGRAMS), reason="needs programs that draw")
@pytest.mark.xdist_group("chromium")
def test_pictures_taken_anew_are_as_large_as_those_kept(tmp_path: Path) -> None:
    take(tmp_path)
    assert {path.name: size_of(path) for path in tmp_path.iterdir()} == {
        path.name: size_of(path) for path in KEPT.iterdir()
    }


def test_the_display_shows_the_reading_and_what_is_left_without_another_places_letters() -> None:
    svg = display_svg()
    words = " ".join(re.findall(r">([^<>]+)</text>", svg))
    assert "heard cylinder three top sixteen thou" in words
    assert "Three top, sixteen. File two." in words
    assert "url(http" not in svg
    assert "█" not in svg


def test_the_sheet_is_of_an_engine_that_is_complete() -> None:
    pages = PdfReader(io.BytesIO(sheet_pdf())).pages
    text = "".join(page.extract_text() for page in pages)
    assert len(pages) == 2  # the second has the pictures
    assert text.count("good") >= 16
    assert "not closed" not in text
    assert "withdrawn" in text
