"""The front page's answers: its folder and nothing else, forms, sessions, files, settings."""

import asyncio
import io
import json
import shutil
import threading
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from pypdf import PdfReader

from handsfree.bench import Bench
from handsfree.commands.front import _bench_options, _folder
from handsfree.commands.journal import verified
from handsfree.errors import HandsfreeError
from handsfree.export import exported as export
from handsfree.hear import read_sound
from handsfree.journal import Journal, Sounds
from handsfree.page import FrontPage, Hands, Order
from handsfree.planfile import load_plan
from handsfree.preferences import load_preferences
from handsfree.session import ChangedPlan
from tests.page.conftest import served
from tests.support.program import PLAN, RECORDINGS

RINGS = {"plan_name": "Monday", "engine_name": "Lark", "cylinders": "4", "top_gap": "18", "second_gap": "20"}
ENTRIES = ("14.5", "16", "10/", "18", "1*2*21.5")


class Program:
    """What the page has the program do, without a bench."""

    def __init__(self):
        self.order, self.trouble, self.fails = None, "", False

    def begin(self, order):
        if self.order is not None:
            return False
        self.order = None if self.fails else order
        return True

    def end(self):
        self.order = None

    def hands(self):
        return Hands(
            self.begin,
            self.end,
            lambda: self.trouble,
            lambda: self.order,
            export,
            verified,
            lambda: [("ears", True, "<b>here</b>", "")],
        )


@pytest.fixture(scope="module")
def logged(tmp_path_factory):
    """A journal of a short session."""
    path = tmp_path_factory.mktemp("logged") / "heron.journal"
    with Journal.open(path) as journal:
        bench = Bench(load_plan(PLAN), journal)
        bench.open(who="Robin Moor")
        for entry in ENTRIES:
            bench.key(entry)
    return path


@pytest.fixture
def shop(tmp_path, logged):
    """A folder with a plan, its journal, and what must not be reached beside and outside it."""
    folder = tmp_path / "engines"
    folder.mkdir()
    (folder / "heron.toml").write_bytes(PLAN.read_bytes())
    (folder / ".hidden.toml").write_bytes(PLAN.read_bytes())
    (folder / "other.toml").write_text("[tool]\nname = 'not a plan'\n")
    shutil.copy(logged, folder)
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.toml").write_bytes(PLAN.read_bytes())
    shutil.copy(logged, outside / "secret.journal")
    return folder


class Front:
    """The page at a real server; `look` and `tell` give status and what was answered."""

    def __init__(self, server, program):
        self.server, self.program = server, program

    def ask(self, path, query=None, **options):
        method = options.pop("method", "GET")

        async def asked():
            address = f"http://127.0.0.1:{self.server.port}{path}"
            async with (
                self.server.session() as session,
                session.request(method, address, params=query, **options) as answer,
            ):
                return answer.status, answer.headers, await answer.read()

        return asyncio.run(asked())

    def look(self, what, **query):
        status, _, body = self.ask(f"/front/{what}", query)
        return status, json.loads(body)

    def tell(self, what, form):
        status, _, body = self.ask(f"/front/{what}", method="POST", json=form)
        return status, json.loads(body)


@pytest.fixture
def front(shop):
    program = Program()
    with served(add=lambda site: FrontPage(site, shop, "for a test", program.hands())) as server:
        server.enter()
        yield Front(server, program)


# ---- the folder


def test_only_what_lies_in_the_folder_is_listed(front, shop, tmp_path):
    (shop / "led-out.toml").symlink_to(tmp_path / "outside" / "secret.toml")
    (shop / "led-out.journal").symlink_to(tmp_path / "outside" / "secret.journal")
    (shop / "loop.toml").symlink_to(shop / "loop.toml")
    state = front.look("state")[1]
    assert [plan["file"] for plan in state["plans"]] == ["heron.toml"]
    assert (state["folder"], state["why"]) == (str(shop), "for a test")
    found = front.look("sessions")[1]
    assert [one["file"] for one in found["sessions"]] == ["heron.journal"]


@pytest.mark.parametrize(
    "name",
    [
        "../outside/secret.{}",
        "..%2foutside%2fsecret.{}",
        "led-out.{}",
        ".hidden.{}",
        "heron.{}\0",
        "./heron.{}",
        "",
        "{folder}/heron.{}",
        "..\\outside\\secret.{}",
    ],
)
def test_no_name_from_a_browser_reaches_another_file(front, shop, tmp_path, name):
    (shop / "led-out.toml").symlink_to(tmp_path / "outside" / "secret.toml")
    (shop / "led-out.journal").symlink_to(tmp_path / "outside" / "secret.journal")
    plan, journal = (name.format(end, folder=shop) for end in ("toml", "journal"))
    assert front.look("card", plan=plan)[0] == 400
    assert front.look("targets", plan=plan)[0] == 400
    assert front.tell("begin", {"plan": plan, "sound": "keys"})[0] == 400
    assert front.program.order is None
    for what in ("session", "verify", "file", "sound", "picture"):
        status, told = front.look(what, journal=journal, form="csv", number="0")
        assert (status, "choose one that is shown" in told["error"]) == (400, True)


def test_sounds_that_lead_out_of_the_folder_are_not_handed_out(front, shop, tmp_path):
    path = shop / "spoken.journal"
    with Journal.open(path) as journal:
        sounds = Sounds.beside(path)
        name = sounds.save(read_sound(RECORDINGS / "02-michael.ogg"))
        bench = Bench(load_plan(PLAN), journal)
        bench.open()
        bench.key("16")
        last = journal.events()[-1].draft
        journal.append(replace(last, heard=replace(last.heard, source="voice", sound=name)))
        number = str(journal.events()[-1].seq)
    status, headers, body = front.ask("/front/sound", {"journal": "spoken.journal", "number": number})
    assert (status, headers["Content-Type"], body[:4]) == (200, "audio/flac", b"fLaC")  # RFC 9639, 8.1
    kept = next(shop.glob("spoken.journal.*/*.flac"))
    outside = tmp_path / "outside" / kept.name
    kept.rename(outside)
    kept.symlink_to(outside)
    status, told = front.look("sound", journal="spoken.journal", number=number)
    assert (status, "lie in another folder" in told["error"]) == (400, True)


def test_nothing_of_the_page_is_shown_without_the_cookie(front):
    for path in ("/front", "/front/state", "/front/sessions", "/front/file?journal=heron.journal&form=csv"):
        assert front.server.knock(path, cookies={})[0] == 403
    elsewhere = {"Origin": "http://example.test"}
    assert front.server.knock("/front/end", "POST", json={}, headers=elsewhere)[0] == 403
    for path in ("/front/plan", "/front/begin", "/front/end", "/front/settings"):
        assert front.ask(path)[0] in {200, 405}
        assert front.program.order is None
        plain = {"data": "{}", "headers": {"Content-Type": "text/plain"}}
        assert front.ask(path, method="POST", **plain)[0] == 415


# ---- a new plan


def test_wrong_answers_are_told_beside_their_questions_in_the_programs_own_sentences(front, shop):
    before = sorted(shop.iterdir())
    wrong = RINGS | {"cylinders": "x", "top_gap": "eighteen"}
    status, told = front.tell("plan", {"checks": ["ring gaps"], "answers": wrong})
    assert status == 200
    assert set(told["faults"]) == {"cylinders", "top_gap"}
    assert told["faults"]["cylinders"] == '"x" is no count; write a whole number from 1 to 99'
    assert sorted(shop.iterdir()) == before


def test_plan_from_a_form_is_the_plan_of_the_command_and_never_written_over_another(front, shop):
    from handsfree.show import new_plan, phrase_card

    first = front.tell("plan", {"checks": ["ring gaps"], "answers": RINGS | {"gap_plus": ""}})[1]
    again = front.tell("plan", {"checks": "ring gaps", "answers": RINGS})[1]
    assert (first["file"], again["file"]) == ("monday.toml", "monday-2.toml")
    text = (shop / "monday.toml").read_text("utf-8")
    assert text == new_plan(["ring gaps"], RINGS)
    card = phrase_card(load_plan(shop / "monday.toml"))
    assert front.look("card", plan="monday.toml")[1] == {"card": card}
    assert len(front.look("targets", plan="monday.toml")[1]) == 8


def test_new_plan_doesnt_go_on_with_a_journal_that_is_there_under_its_name(front, shop):
    (shop / "heron.journal").rename(shop / "monday.journal")
    told = front.tell("plan", {"checks": ["ring gaps"], "answers": RINGS})[1]
    assert told["file"] == "monday-2.toml"


def test_name_of_a_job_becomes_no_path(front, shop):
    name = "../../outside/<b>evil</b>"
    told = front.tell("plan", {"checks": ["ring gaps"], "answers": RINGS | {"plan_name": name}})[1]
    assert told["file"] == "outside-b-evil-b.toml"
    assert load_plan(shop / told["file"]).name == name


@pytest.mark.parametrize(
    "form", [{}, {"checks": ["nothing"], "answers": {}}, {"checks": ["deck"], "answers": 3}]
)
def test_what_is_no_form_is_one_sentence(front, form):
    status, told = front.tell("plan", form)
    assert (status, list(told)) == (400, ["error"])


def test_questions_that_a_given_answer_spares_are_not_asked(front):
    asked = {one["key"]: one for one in front.look("questions", checks="ring gaps")[1]}
    assert asked["bore"]["where_empty"] == ["top_gap", "second_gap"]
    # without the gaps the bore is needed
    told = front.tell("plan", {"checks": ["ring gaps"], "answers": RINGS | {"top_gap": ""}})[1]
    assert set(told["faults"]) == {"bore"}


# ---- sessions


def test_session_begins_on_its_plan_and_journal_and_a_second_has_to_wait(front, shop):
    order = {"plan": "heron.toml", "who": "Robin", "sound": "keys"}
    assert front.tell("begin", order) == (200, {"go": "/bench"})
    assert front.program.order == Order(shop / "heron.toml", shop / "heron.journal", "Robin", "keys")
    assert front.look("state")[1]["at_work"] == "heron.toml"
    status, told = front.tell("begin", order)
    assert (status, told["error"].startswith("a session is at work")) == (400, True)
    assert front.tell("end", {}) == (200, {})
    assert front.tell("begin", order | {"fresh": True, "changed_plan": "judge"})[0] == 200
    assert front.program.order.journal.name.startswith("heron-20")
    assert not front.program.order.journal.exists()
    front.tell("end", {})
    assert front.tell("begin", {"trial": True, "sound": "page"})[0] == 200
    assert front.program.order.journal is None


def test_why_a_session_couldnt_begin_is_told(front):
    front.program.fails = True
    threading.Timer(0.2, lambda: setattr(front.program, "trouble", "the plan was edited")).start()
    order = {"plan": "heron.toml", "sound": "here"}
    assert front.tell("begin", order) == (400, {"error": "the plan was edited"})


def test_options_of_a_session_are_those_of_the_command(tmp_path):
    plan, journal = tmp_path / "-a.toml", tmp_path / "-a.journal"
    order = Order(plan, journal, "--silent", "page", "terse", ChangedPlan.JUDGE)
    options = _bench_options(order, "127.0.0.1:8123")
    assert (options.plan, options.journal, options.who) == (plan, journal, "--silent")
    assert (options.page_sound, options.no_microphone, options.silent) == (True, False, False)
    assert (options.answers, options.changed_plan, options.web) == ("terse", "judge", "127.0.0.1:8123")


@pytest.mark.parametrize(
    ("sought", "count"),
    [
        ({}, 1),
        ({"engine": "HERON"}, 1),
        ({"engine": "lark"}, 0),
        ({"who": "moor"}, 1),
        ({"who": "outsider"}, 0),
        ({"place": "ring second"}, 1),
        ({"place": "cylinder 7"}, 0),
        ({"text": "14.5"}, 1),
        ({"text": "99.25"}, 0),
        ({"engine": "heron", "who": "nobody"}, 0),
    ],
)
def test_past_sessions_are_found_by_engine_place_person_and_words(front, sought, count):
    assert len(front.look("sessions", **sought)[1]["sessions"]) == count


def test_session_is_shown_with_its_standing_and_every_entry(front):
    told = front.look("session", journal="heron.journal")[1]
    assert told["summary"]["standing"] == "2 of 16 done (2 good)"
    assert told["rows"][0][1:5] == ["cylinder 1, ring top", "18 to 19.5 thou", "18 thou", "good"]
    assert [one["text"] for one in told["log"]] == ["14.5 thou", "16 thou", "18 thou", "21.5 thou"]
    holds = front.look("verify", journal="heron.journal")[1]
    assert holds["holds"]
    assert "are as they were logged" in holds["lines"][0]


def test_files_are_those_of_the_export_command(front, shop):
    for form in ("csv", "json", "pdf", "xlsx"):
        status, headers, body = front.ask("/front/file", {"journal": "heron.journal", "form": form})
        assert (status, headers["Content-Disposition"]) == (200, f'attachment; filename="heron.{form}"')
        if form != "xlsx":  # its clock
            assert body == export(shop / "heron.journal", form)
    assert front.look("file", journal="heron.journal", form="exe")[0] == 400


def test_pictures_are_svg_with_a_caption_and_nothing_that_acts(front):
    told = front.look("session", journal="heron.journal")[1]
    assert len(told["pictures"]) == 2
    for one in told["pictures"]:
        query = {"journal": "heron.journal", "number": str(one["number"]), "ink": "dark"}
        status, headers, body = front.ask("/front/picture", query)
        assert (status, headers["Content-Type"]) == (200, "image/svg+xml")
        assert ET.fromstring(body).get("aria-label") == one["about"]  # noqa: S314 - our own
    assert front.look("picture", journal="heron.journal", number="2")[0] == 400


def test_damaged_journal_is_named_and_spoils_nothing(front, shop):
    whole = (shop / "heron.journal").read_bytes()
    (shop / "broken.journal").write_bytes(whole[:100] + b"\0" * 3000)
    told = front.look("sessions")[1]
    assert [one["file"] for one in told["sessions"]] == ["heron.journal"]
    assert "broken.journal" in told["unreadable"][0]
    assert front.look("state")[0] == 200


# ---- settings, this machine


def test_settings_are_kept_or_refused_beside_their_fields(front):
    wrong = {"rate": 9000, "volume": "loud", "answers": "chatty"}
    assert set(front.tell("settings", wrong)[1]["faults"]) == {"rate", "volume", "answers"}
    assert load_preferences().words_per_minute is None
    told = front.tell("settings", {"rate": 190, "volume": 0, "answers": "terse"})[1]
    assert (told["rate"], told["volume"], told["answers"]) == (190, 0.0, "terse")
    kept = load_preferences()
    assert (kept.words_per_minute, kept.volume, kept.answers) == (190, 0.0, "terse")
    assert front.look("settings")[1] == told


def test_what_works_here_comes_as_rows(front):
    assert front.look("probes")[1] == [["ears", True, "<b>here</b>", ""]]


# ---- the folder that is taken


def test_folder_is_the_one_started_in_but_never_the_home_itself(tmp_path, monkeypatch):
    home, own = tmp_path / "home", tmp_path / "home" / "engines"
    own.mkdir(parents=True)
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(home / "papers"))
    monkeypatch.chdir(own)
    assert _folder(None)[0] == own
    monkeypatch.chdir(home)
    assert _folder(None)[0] == home / "papers" / "handsfree"
    assert (home / "papers" / "handsfree").is_dir()
    assert _folder(own)[0] == own
    with pytest.raises(HandsfreeError, match="there is no such folder"):
        _folder(home / "none")


def test_sheet_has_the_same_pictures_as_the_page(shop):
    pages = PdfReader(io.BytesIO(export(shop / "heron.journal", "pdf"))).pages
    text = "".join(page.extract_text() for page in pages)
    assert "Pictures" in text
    assert "turns of the filer" in text
