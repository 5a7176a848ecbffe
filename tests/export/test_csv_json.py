"""CSV and JSON of a session."""

import csv
import io
import json

import pytest

from handsfree.errors import JournalError
from handsfree.export import to_csv, to_json
from handsfree.export.build_sheet import sheet_content
from handsfree.export.csv_json import from_json, harmless, header
from handsfree.journal import Draft, Heard, Kind, LeafSide
from handsfree.length import Length, Unit, length
from handsfree.session import fold, opening

pytestmark = pytest.mark.quick

HEARD = Heard("voice", "=HYPERLINK(...) eighteen", "phrase", -0.125, 7.5, "eighty")


@pytest.fixture
def events(plan, reading, happen, at):
    first = happen(reading("17.50", heard=HEARD, verdict="short", remaining=length("0.50")))
    second = happen(reading("180", note='a "b",\r\nc'))
    return [
        happen(opening(plan)),
        first,
        second,
        happen(
            Draft(
                Kind.CORRECTION, value=length("18"), refers_to=second.id, bound=LeafSide.UNDER, feel="no go"
            )
        ),
        happen(Draft(Kind.READING, "ring gaps", at(2), Length(length("0.45").value, Unit.MM))),
        happen(Draft(Kind.VOID, refers_to=first.id)),
        happen(Draft(Kind.TICK, "washed", data={"done": True})),
    ]


def rows(plan, events):
    return list(csv.DictReader(io.StringIO(to_csv(fold(plan, events)).decode(), newline="")))


def test_csv_has_one_row_for_every_entry_with_its_state(plan, events):
    table = rows(plan, events)
    assert [row["value"] for row in table] == ["17.50", "180", "18", "0.45", ""]
    assert [row["state"] for row in table] == ["voided", "corrected", "stands", "stands", "stands"]
    assert [row["unit"] for row in table] == ["thou", "thou", "thou", "mm", ""]
    assert [(row["cylinder"], row["ring"]) for row in table[:4]] == [("1", "top")] * 3 + [("2", "top")]
    assert table[0]["changed_by"] == events[5].id
    assert table[2]["refers_to"] == table[1]["id"] == events[2].id
    assert (table[2]["bound"], table[2]["feel"]) == ("under", "no go")
    assert (table[0]["verdict"], table[0]["remaining"], table[0]["remaining_unit"]) == (
        "short",
        "0.50",
        "thou",
    )
    assert (table[0]["fit"], table[0]["margin"], table[0]["runner_up"]) == ("-0.125", "7.5", "eighty")
    assert table[4]["done"] == "yes"
    assert (table[0]["at_utc"], table[0]["at_local"]) == (
        "2026-11-25T07:30:01.000000Z",
        "2026-11-25T09:30:01+02:00",
    )


def test_build_sheet_tells_withdrawn_entries_from_corrected_ones(plan, events):
    changes = sheet_content(fold(plan, events), events, ())["changes"]
    assert [(change[0], change[3]) for change in changes] == [
        (str(events[1].seq), "withdrawn"),
        (str(events[2].seq), "corrected"),
    ]


def test_csv_lines_end_as_the_standard_says_and_text_with_quotes_and_breaks_survives(plan, events):
    data = to_csv(fold(plan, events))
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r\n") == 7
    assert rows(plan, events)[1]["note"] == 'a "b",\r\nc'


def test_an_axis_that_is_called_like_a_column_gets_a_name_of_its_own():
    names = header(("cylinder", "value", "number"))
    assert names[:6] == ["number", "check", "cylinder", "position_value", "position_number", "value"]
    assert len(set(names)) == len(names)


def test_no_text_can_become_a_formula(plan, events):
    assert rows(plan, events)[0]["heard"] == "'=HYPERLINK(...) eighteen"


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\t=1", "\r=1", " =1", "\n@x", "\uff1d1"])
def test_formula_starts_are_neutralised_even_behind_white_space(text):
    assert harmless(text) == "'" + text


@pytest.mark.parametrize("text", ["", "eighteen", "1=1", "a-b", "'quoted", "18"])
def test_harmless_text_is_left_alone(text):
    assert harmless(text) == text


def test_json_keeps_decimals_as_strings_and_positions_by_axis(plan, events):
    held = json.loads(to_json(fold(plan, events), events))
    entry = held["entries"][0]
    assert (entry["value"], entry["unit"], entry["position"]) == (
        "17.50",
        "thou",
        {"cylinder": "1", "ring": "top"},
    )
    assert held["plan"] == {
        "name": "Two rings",
        "engine": "Bench twin",
        "digest": plan.digest,
        "text": plan.text,
    }
    assert held["entries"][4]["done"] is True


def test_json_gives_the_events_and_so_the_session_back(plan, events):
    session = fold(plan, events)
    again = from_json(to_json(session, events))
    assert again == events
    assert fold(plan, again) == session


def test_the_same_session_exports_to_the_same_bytes(plan, events):
    first, second = fold(plan, events), fold(plan, list(events))
    assert to_csv(first) == to_csv(second)
    assert to_json(first, events) == to_json(second, events)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda _: b"no json", "not a session"),
        (lambda _: b"[]", "not a session"),
        (lambda held: json.dumps({**held, "form": "x"}).encode(), "not a session"),
        (lambda held: json.dumps({**held, "version": 2}).encode(), "newer handsfree"),
        (lambda held: json.dumps({**held, "events": held["events"][1:]}).encode(), "altered"),
        (lambda held: json.dumps({**held, "events": [{}]}).encode(), "can't be read"),
        (lambda held: json.dumps({**held, "events": [7]}).encode(), "incomplete"),
    ],
)
def test_what_is_not_a_whole_export_is_refused_with_a_sentence(plan, events, change, sentence):
    held = json.loads(to_json(fold(plan, events), events))
    with pytest.raises(JournalError, match=sentence):
        from_json(change(held))
