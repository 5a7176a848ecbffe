"""Exports, read back by programs that are not ours.

Sources: RFC 4180 by Python's csv module and pandas; ISO/IEC 29500 (XLSX) by openpyxl and LibreOffice;
ISO 32000 (PDF) by pypdf and poppler; JSON Schema 2020-12 by jsonschema; RFC 8785 by the package rfc8785.
"""

import csv
import hashlib
import io
import json
import shutil
import subprocess
from decimal import Decimal
from importlib.resources import files

import jsonschema
import openpyxl
import pandas
import pypdf
import pytest
import rfc8785

from handsfree.export import to_csv, to_json, to_pdf, to_xlsx
from handsfree.journal import Journal, columns
from handsfree.journal.columns import START, canonical
from handsfree.session import fold
from tests.support import journals

CAUTION = "Wear eye protection for all filing. Rings can snap and fly."


@pytest.fixture(scope="module")
def plan():
    return journals.plan()


@pytest.fixture(scope="module")
def events(plan):
    return journals.log_story(
        Journal.in_memory(clock=journals.clock(), identities=journals.identities()), plan
    )


@pytest.fixture(scope="module")
def session(plan, events):
    return fold(plan, events)


# -- CSV ------------------------------------------------------------------------------------------


def test_pandas_and_csv_read_the_same_table(session):
    data = to_csv(session)
    frame = pandas.read_csv(io.BytesIO(data), dtype=str, keep_default_na=False)
    rows = list(csv.DictReader(io.StringIO(data.decode(), newline=""), strict=True))
    assert len(frame) == len(session.log()) == len(rows)
    assert frame.to_dict("records") == rows
    assert list(frame["value"][:2]) == ["14.50", "18.25"]
    assert frame["note"].str.contains("DROP TABLE").sum() == 1
    assert not frame["note"].str.startswith("=").any()


def test_pandas_takes_measurements_for_numbers(session):
    frame = pandas.read_csv(io.BytesIO(to_csv(session)))
    assert frame["value"].dtype == float
    measured = frame[frame["check"] == "ring gaps"]
    by_hand = [float(entry.value.value) for entry in session.log() if entry.check == "ring gaps"]
    assert list(measured["value"]) == by_hand


def test_libreoffice_reads_the_csv_without_making_formulas_of_it(tmp_path, session):
    (tmp_path / "log.csv").write_bytes(to_csv(session))
    sheet = openpyxl.load_workbook(converted(tmp_path / "log.csv", "xlsx"))["log"]
    assert [cell.value for row in sheet for cell in row if cell.data_type in ("f", "e")] == []
    assert sheet.max_row == len(session.log()) + 1


# -- XLSX -----------------------------------------------------------------------------------------


def converted(source, to):
    """Convert a file with LibreOffice, in a profile of its own."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice isn't installed (Debian: libreoffice-calc)")
    profile = f"-env:UserInstallation={(source.parent / 'profile').as_uri()}"
    out = source.parent / "converted"
    subprocess.run(
        [office, profile, "--headless", "--convert-to", to, "--outdir", out, source],
        check=True,
        capture_output=True,
        timeout=240,
    )
    return out / f"{source.stem}.{to}"


def table(sheet):
    first, *others = sheet.iter_rows()
    names = [cell.value for cell in first]
    return [dict(zip(names, row, strict=True)) for row in others]


def test_openpyxl_finds_numbers_with_units_a_frozen_header_and_filters(session, events):
    book = openpyxl.load_workbook(io.BytesIO(to_xlsx(session, events)))
    assert book.sheetnames == ["Results", "Log", "About"]
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert sheet.auto_filter.ref == sheet.dimensions
    log = table(book["Log"])
    assert len(log) == len(session.log())
    first = log[0]
    assert first["value"].value == 14.5
    assert first["value"].data_type == "n"
    assert first["value"].number_format == '0.00 "thou"'
    assert first["unit"].value == "thou"
    results = table(book["Results"])
    assert [row["reading"].value for row in results[:3]] == [18, 18.25, 21]
    assert [row["as_logged"].value for row in results[6:8]] == ["under 17 thou", "19.5 to 20 thou"]
    assert results[6]["reading"].value is None  # a bound is not a reading
    about = {row["what"].value: row["is"].value for row in table(book["About"])}
    assert about["who"] == "J. Marten"
    assert len(about["hash of the last event"]) == 64


def test_no_cell_is_a_formula(session, events):
    book = openpyxl.load_workbook(io.BytesIO(to_xlsx(session, events)))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    risky = [cell for cell in cells if isinstance(cell.value, str) and cell.value.startswith("=")]
    assert risky
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in risky)


def test_libreoffice_opens_the_workbook_with_the_same_numbers(tmp_path, session, events):
    (tmp_path / "session.xlsx").write_bytes(to_xlsx(session, events))
    first_sheet = converted(tmp_path / "session.xlsx", "csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(first_sheet)))
    assert [row["reading"] for row in rows[:3]] == ["18", "18.25", "21"]
    printed = pypdf.PdfReader(converted(tmp_path / "session.xlsx", "pdf"))
    text = "".join(page.extract_text() for page in printed.pages)
    assert text.count("14.50 thou") == 6  # the log shows what was said, with its unit


# -- PDF ------------------------------------------------------------------------------------------


def pages(data):
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def test_pypdf_reads_everything_that_belongs_on_the_sheet(session, events, plan):
    data = to_pdf(session, events, cautions=[CAUTION])
    text = "\n".join(pages(data))
    for wanted in (
        "Bench twin",
        "Ring gaps of a twin",
        "J. Marten",
        "feeler set 2",
        "18 to 19.5 thou",
        "18.25 thou",
        "under 17 thou",
        "19.5 to 20 thou",
        "good",
        "short",
        "over",
        "open",
        "Corrected and withdrawn",
        "corrected",
        "withdrawn",
        "washed",
        "done",
        "2026-11-25 08:0",
        "Wear eye protection",
        "Measured by, date",
    ):
        assert wanted in text, wanted
    with_hash = text.replace("\n", "")
    assert journals_head(events) in with_hash
    box = pypdf.PdfReader(io.BytesIO(data)).pages[0].mediabox
    assert (round(float(box.width), 1), round(float(box.height), 1)) == (595.3, 841.9)  # A4


def journals_head(events):
    """The chain, computed here again with other tools."""
    last = START
    for event in events:
        cells = {name: cell for name, cell in columns(event).items() if cell is not None}
        cells = {name: repr(cell) if isinstance(cell, float) else cell for name, cell in cells.items()}
        last = hashlib.sha256(last.encode() + b"\n" + rfc8785.dumps(cells)).hexdigest()
    return last


@pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="poppler isn't installed (Debian: poppler-utils)"
)
def test_poppler_draws_every_page_of_five_hundred_positions(tmp_path):
    plan = journals.plan(cylinders=99)
    journal = Journal.in_memory(clock=journals.clock())
    for _ in range(3):
        journals.log_many(journal, plan, len(plan.checks[0].positions))
    wide = fold(plan, journal.events())
    data = to_pdf(wide, journal.events(), cautions=[CAUTION])
    (tmp_path / "sheet.pdf").write_bytes(data)
    subprocess.run(["pdftoppm", "-r", "40", "-gray", tmp_path / "sheet.pdf", tmp_path / "page"], check=True)
    pictures = sorted(tmp_path.glob("page*.pgm"))
    text = pages(data)
    assert len(pictures) == len(text) > 5
    for picture in pictures:
        _, _, _, pixels = picture.read_bytes().split(b"\n", 3)
        dark = sum(pixel < 128 for pixel in pixels) / len(pixels)
        assert 0.001 < dark < 0.3  # neither blank nor black
    assert all("target" in page and "reading" in page for page in text[:5])  # the header on every page
    assert sum(page.count("thou") for page in text) > 2 * 198


def test_text_that_looks_like_markup_is_printed_as_it_is(session, events, plan):
    from dataclasses import replace

    hostile = replace(plan, name='#panic("x") *b* $x^2$ @ref <l> `raw` ' + "W" * 10_000)
    data = to_pdf(fold(hostile, events), events, cautions=["#set page(width: 1pt) " + "\u202e" + "=1+1"])
    text = "".join(pages(data)).replace("\n", "")
    assert '#panic("x") *b* $x^2$ @ref <l> `raw`' in text
    assert "\u202e" not in text
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) < 5


def test_letters_from_elsewhere_are_printed_too(events, plan):
    from dataclasses import replace

    named = replace(plan, name="\u00c9tude \u0394 \u0416 \u65e5\u672c \u05d0\u05d1")
    data = to_pdf(fold(named, events), events)
    assert "\u00c9tude \u0394 \u0416" in pages(data)[0]


# -- JSON -----------------------------------------------------------------------------------------


def schema():
    return json.loads(files("handsfree.export").joinpath("session.schema.json").read_text(encoding="utf-8"))


def test_the_schema_is_one_and_the_export_follows_it(session, events):
    jsonschema.Draft202012Validator.check_schema(schema())
    document = json.loads(to_json(session, events))
    jsonschema.Draft202012Validator(schema()).validate(document)


@pytest.mark.parametrize(
    "change",
    [
        {"version": 2},
        {"hash": "no hash"},
        {"entries": [{"number": 1}]},
        {"events": [{"seq": 1}]},
        {"more": True},
    ],
)
def test_the_schema_refuses_what_is_not_an_export(session, events, change):
    document = {**json.loads(to_json(session, events)), **change}
    assert not jsonschema.Draft202012Validator(schema()).is_valid(document)


def test_the_schema_refuses_a_measurement_that_is_a_float(session, events):
    document = json.loads(to_json(session, events))
    document["entries"][0]["value"] = 14.5
    assert not jsonschema.Draft202012Validator(schema()).is_valid(document)


def test_the_plans_digest_can_be_computed_from_the_document(session, events):
    document = json.loads(to_json(session, events))
    assert hashlib.sha256(document["plan"]["text"].encode()).hexdigest() == document["plan"]["digest"]


def test_decimals_in_json_are_the_very_decimals_that_were_logged(session, events):
    document = json.loads(to_json(session, events))
    logged = [event.draft.value.value for event in events if event.draft.value is not None]
    found = [event["value"] for event in document["events"] if "value" in event]
    assert found == [str(value) for value in logged]
    assert Decimal(found[0]) == Decimal("14.50")


# -- the chain ------------------------------------------------------------------------------------


def test_the_canonical_form_is_that_of_rfc_8785(events):
    for event in events:
        cells = {
            name: repr(cell) if isinstance(cell, float) else cell
            for name, cell in columns(event).items()
            if cell is not None
        }
        assert canonical(columns(event)) == rfc8785.dumps(cells)


def test_the_chain_can_be_computed_with_other_tools(session, events):
    assert json.loads(to_json(session, events))["hash"] == journals_head(events)


# -- always the same ------------------------------------------------------------------------------


@pytest.mark.parametrize("write", [to_json, to_xlsx, to_pdf])
def test_the_same_journal_gives_the_same_bytes(tmp_path, plan, write):
    outputs = []
    for name in ("a", "b"):
        events = journals.story_at(tmp_path / name)
        outputs.append(write(fold(plan, events), events))
    assert outputs[0] == outputs[1]
