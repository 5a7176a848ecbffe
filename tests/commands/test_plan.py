"""`handsfree plan`: made by asking or by script, shown, checked, rings shared out."""

from __future__ import annotations

import io
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from handsfree.bench import Bench
from handsfree.commands.plan import answered_plan, given_answers
from handsfree.errors import PlanError
from handsfree.journal import Journal
from handsfree.planfile import load_plan, parse_plan
from tests.dialogue.rules import GAPS, HEAD
from tests.dialogue.test_sharing import BORES_TO_SHARE, EXACT_GAPS, TRIED
from tests.support.program import ROOT, handsfree_here, refusal

pytestmark = pytest.mark.quick

JOB = [
    *("--answer", "plan_name=Mere four", "--answer", "engine_name=Mere four", "--answer", "cylinders=4"),
    *("--answer", "bore=4.030 in", "--answer", "top_gap=18", "--answer", "second_gap=20 thou"),
]


@pytest.fixture(autouse=True)
def nobody_to_ask(monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO())


def test_help_lists_plan_and_what_it_can_do():
    assert "plan " in handsfree_here("--help").stdout
    said = handsfree_here("plan", "--help").stdout
    assert all(f"\n    {action} " in said for action in ("new", "show", "check", "share"))


def test_scripted_answers_make_a_plan_on_standard_output():
    done = handsfree_here("plan", "new", "ring gaps", *JOB)
    assert done.returncode == 0
    plan = parse_plan(done.stdout)
    assert len(plan.checks[0].positions) == 8
    assert {str(target.aim) for target in plan.checks[0].targets.values()} == {"18 thou", "20 thou"}


def test_answers_come_from_a_file_and_those_typed_win(tmp_path):
    (tmp_path / "job.toml").write_text(
        'plan_name = "A job"\nengine_name = "A four"\ncylinders = 4\nbore = "4.030 in"\ntop_gap = 18.5\n'
        'second_gap = "20"\nitems = ["leaves counted", "bores oiled"]\n'
    )
    out = tmp_path / "plan.toml"
    done = handsfree_here(
        *("plan", "new", "ring gaps", "last looks", "--answers", tmp_path / "job.toml"),
        *("--answer", "cylinders=6", "--out", out),
    )
    assert (done.returncode, done.stdout) == (0, "")
    assert f"The plan is in {out}" in done.stderr
    plan = load_plan(out)
    assert len(plan.checks[0].positions) == 12
    assert str(next(iter(plan.checks[0].targets.values())).aim) == "18.5 thou"
    assert plan.checks[1].axes[0].labels == ("leaves counted", "bores oiled")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["ring gaps"], '"What is the job called?" has no answer'),
        ([], "no check was named"),
        (["ring gap", *JOB], 'did you mean "ring gaps"'),
        (["ring gaps", *JOB, "--answer", "bore"], '"bore" is no answer; write KEY=ANSWER'),
        (
            ["ring gaps", *JOB, "--answer", "boer=4 in"],
            'no question has the key "boer"; did you mean "bore"?',
        ),
        (["ring gaps", *JOB, "--answer", "bore=96 in"], "no engine has a bore of 96 in"),
        (["ring gaps", *JOB, "--answers", "no-such.toml"], "there is no such file of answers"),
        (["--own", "no-such.toml", *JOB], "there is no such template"),
    ],
)
def test_what_will_not_do_is_one_sentence(arguments, says):
    assert says in refusal(handsfree_here("plan", "new", *arguments))


@pytest.mark.parametrize(
    ("text", "says"), [("a = ", "no whole TOML"), ("a = true", '"a" is no text'), ("[a]", '"a" is no text')]
)
def test_a_file_of_answers_that_cannot_be_read_says_why(tmp_path, text, says):
    path = tmp_path / "answers.toml"
    path.write_text(text)
    with pytest.raises(PlanError, match=says):
        given_answers(path, [])


def test_a_file_that_is_there_is_never_written_over(tmp_path):
    out = tmp_path / "plan.toml"
    out.write_text("mine")
    assert "is there already" in refusal(handsfree_here("plan", "new", "ring gaps", *JOB, "--out", out))
    assert out.read_text() == "mine"


OWN = """
format = 1
name = "washed"
about = "what is washed"
text = '''
[[check]]
name = "washed"
rule = "tick"
[check.axes]
bucket = {buckets}
'''
[[ask]]
key = "buckets"
ask = "How many?"
kind = "count"
"""


def test_a_template_of_ones_own_is_asked_after_the_others(tmp_path):
    own = tmp_path / "washed.toml"
    own.write_text(OWN)
    done = handsfree_here("plan", "new", "ring gaps", "--own", own, *JOB, "--answer", "buckets=3")
    assert [check.name for check in parse_plan(done.stdout).checks] == ["ring gaps", "washed"]


def test_the_list_shows_templates_and_with_names_their_questions():
    templates = handsfree_here("plan", "new", "--list").stdout
    assert "ring gaps " in templates
    assert "valve lash" in templates
    questions = handsfree_here("plan", "new", "--list", "ring gaps").stdout
    assert questions.startswith("plan_name ")
    assert "top_gap" in questions


def test_asking_repeats_a_question_until_its_answer_will_do():
    told: list[str] = []
    answers = iter(["Mere four", "Mere four", "", "many", "4", "", "", "18", "4.03", "4.030 in", ""])
    asked: list[str] = []

    def ask(question: str) -> str:
        asked.append(question)
        return next(answers)

    text = answered_plan(["ring gaps"], (), {"duty": "road"}, ask, told.append)
    assert parse_plan(text).checks[0].axes[0].labels == ("1", "2", "3", "4")
    assert ["no count" in told[0], "has no unit" in told[1]] == [True, True]
    assert len(told) == 2
    assert any("(thou, mm) [thou]" in question for question in asked)
    assert not any("What is the engine for?" in question for question in asked)  # answered before


class Person:
    """Answers questions by what they ask about; Enter to all others."""

    def __init__(self, **answers: list[str]):
        self.answers = {key.replace("_", " "): list(said) for key, said in answers.items()}
        self.asked: list[str] = []
        self.told: list[str] = []

    def ask(self, question: str) -> str:
        self.asked.append(question)
        for about, said in self.answers.items():
            if about in question and said:
                return said.pop(0)
        return ""

    def plan(self, *names: str) -> str:
        return answered_plan(names, (), {}, self.ask, self.told.append)


NAMED = {"the job called": ["Job"], "What is the engine?": ["A twin"], "cylinders": ["2"]}


def test_a_comma_is_a_point_and_metric_is_a_unit():
    person = Person(
        **NAMED, read=["metric"], maker=["0,35", "0,40 mm"]
    )  # the two gaps: with and without the unit
    targets = parse_plan(person.plan("ring gaps")).checks[0].targets.values()
    assert {str(target.aim) for target in targets} == {"0.35 mm", "0.40 mm"}
    assert person.told == []


def test_a_comma_that_may_part_thousands_is_asked_about():
    person = Person(**NAMED, maker=["1,250", "18", "20"])
    person.plan("ring gaps")
    assert "may be 1250 or 1.250" in person.told[0]


def test_the_bore_is_asked_only_where_the_check_needs_it():
    person = Person(**NAMED, maker=["18", "20"])
    person.plan("ring gaps", "last looks")
    assert not any("What is the bore" in question for question in person.asked)
    person = Person(**NAMED, maker=["", "20"], bore=["4.030 in"])
    person.plan("ring gaps")
    assert sum("What is the bore" in question for question in person.asked) == 1
    person = Person(
        **NAMED, maker=["18", "20"], **{"What is the bore": ["4.030 in"], "clearance": ["2", "4"]}
    )
    assert "nominal" in person.plan("ring gaps", "piston to bore")


def test_every_default_that_is_offered_leads_to_a_plan():
    """Enter to each question that offers something, and an answer only where nothing is offered."""
    person = Person(**NAMED, **{"What is the bore": ["4.030 in"]})
    plan = parse_plan(person.plan("ring gaps"))
    assert person.told == []
    assert all(target.aim.value > 0 for target in plan.checks[0].targets.values())


def test_a_greatest_below_the_least_is_said_at_once():
    person = Person(**NAMED, least=["20"], greatest=["15", "25"])
    plan = parse_plan(person.plan("oil rail gaps"))
    assert person.told[0].endswith("15 is below the least, 20; give 20 or more")
    assert str(next(iter(plan.checks[0].targets.values())).upper) == "25 thou"


def test_answers_that_make_no_plan_are_asked_again_and_none_is_lost():
    bore = ["96 in", "4.030 in"]
    person = Person(**NAMED, maker=["", "20"], **{"What is the bore": bore})
    plan = parse_plan(person.plan("ring gaps"))
    assert "no engine has a bore of 96 in" in person.told[0]
    assert any("What is the engine? [A twin]" in question for question in person.asked)
    assert (plan.name, plan.engine.name) == ("Job", "A twin")


@pytest.mark.parametrize("name", ["bearing clearance", "rod clearance"])
def test_clearance_that_is_read_directly_needs_no_bore_and_no_journal(name):
    person = Person(**NAMED, **{"main bearings": ["5"]}, least=["1.5"], greatest=["3"])
    check = parse_plan(person.plan(name)).checks[0]
    assert not check.parts
    assert not any("diameter" in question or "bore" in question for question in person.asked)


def test_a_crank_alone_is_measured_without_a_bore():
    person = Person(**NAMED, **{"main bearings": ["5"], "least diameter": ["2.447 in"]})
    person.answers["greatest diameter"] = ["2.448 in"]
    check = parse_plan(person.plan("crank journals")).checks[0]
    assert (len(check.positions), check.unit.value) == (20, "in")


def test_at_a_terminal_the_questions_are_put_and_the_plan_is_written(tmp_path):
    """A real terminal: questions go to the screen, so that standard output is the plan alone."""
    primary, terminal = pty.openpty()
    out = tmp_path / "plan.toml"
    process = subprocess.Popen(
        [sys.executable, "-m", "handsfree.cli", "plan", "new", "--out", str(out)],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
    )
    os.close(terminal)
    os.write(primary, b"last looks\nMere four\nMere four\n\n4\n\n\n\n")
    printed, asked = process.communicate(timeout=60)
    os.close(primary)
    assert process.returncode == 0, asked
    assert printed == b""
    assert b"Which checks" in asked
    assert b"How many cylinders has it?" in asked
    assert [check.name for check in load_plan(out).checks] == ["last looks"]


def test_answers_that_end_before_the_questions_make_no_plan(tmp_path):
    primary, terminal = pty.openpty()
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "handsfree.cli",
            "plan",
            "new",
            "ring gaps",
            "--out",
            str(tmp_path / "a.toml"),
        ],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
    )
    os.close(terminal)
    os.write(primary, b"Mere four\n\x04")
    _, asked = process.communicate(timeout=60)
    os.close(primary)
    assert process.returncode == 2
    assert b"no plan was made: the answers ended before the questions" in asked
    assert not (tmp_path / "a.toml").exists()


def test_show_prints_every_target_with_its_derivation():
    done = handsfree_here("plan", "show", ROOT / "demo" / "build" / "plan.toml")
    assert done.returncode == 0
    assert "Tarnside twin, short build" in done.stdout
    assert "common practice, no source" in done.stdout


def test_check_ends_with_status_2_where_anything_contradicts_itself(tmp_path):
    fine = tmp_path / "fine.toml"
    fine.write_text(HEAD + GAPS)
    done = handsfree_here("plan", "check", fine)
    assert (done.returncode, done.stdout) == (0, "Nothing contradicts itself.\n")
    bad = tmp_path / "bad.toml"
    bad.write_text(HEAD + "[feelers]\nleaves = [5, 10]\n" + GAPS)
    done = handsfree_here("plan", "check", bad)
    assert done.returncode == 2
    assert done.stdout.startswith("contradiction: ring gaps")


def test_check_of_a_plan_that_is_none_is_one_sentence(tmp_path):
    path = tmp_path / "none.toml"
    path.write_text("format = 1\nnmae = 1\n")
    assert 'did you mean "name"' in refusal(handsfree_here("plan", "check", path))


# --- rings tried in one bore --------------------------------------------------------------------


def journal_of(tmp_path: Path, text: str, *keys: str) -> Path:
    path = tmp_path / "tried.journal"
    with Journal.open(path) as journal:
        bench = Bench(parse_plan(text), journal)
        bench.open()
        for entry in keys:
            bench.key(entry)
    return path


SHARING = HEAD.rstrip() + f"\n{BORES_TO_SHARE}\n" + TRIED + EXACT_GAPS


def test_rings_tried_in_one_bore_are_shared_out_from_their_journal(tmp_path):
    """The worked example: rings 1 to 4 to bores 4, 1, 2, 3, with 3.686, 2.5, 3.743, 1.742 thou left."""
    path = journal_of(tmp_path, SHARING, "14", "15.5", "13", "17.2")
    done = handsfree_here("plan", "share", path)
    assert done.returncode == 0
    assert done.stdout.splitlines() == [
        "tops tried, for ring gaps: ring top",
        "  1 to cylinder 4: about 14.31 thou there, 3.69 thou to file",
        "  2 to cylinder 1: about 15.5 thou there, 2.5 thou to file",
        "  3 to cylinder 2: about 14.26 thou there, 3.74 thou to file",
        "  4 to cylinder 3: about 16.26 thou there, 1.74 thou to file",
        "  predictions; only a reading in the bore itself counts",
    ]


def test_rings_that_are_not_tried_yet_are_named_and_nothing_is_shared_out(tmp_path):
    path = journal_of(tmp_path, SHARING, "14", "15.5")
    assert "nothing is shared out: not tried yet: 3, 4" in handsfree_here("plan", "share", path).stdout


def test_once_filing_has_begun_the_shares_are_said_to_be_doubtful(tmp_path):
    path = journal_of(tmp_path, SHARING, "14", "15.5", "13", "17.2", ".*2", "1*1*15")
    assert "filing has begun" in handsfree_here("plan", "share", path).stdout


def test_a_plan_that_shares_nothing_out_says_so(tmp_path):
    assert "no check of its plan shares rings out" in refusal(
        handsfree_here("plan", "share", journal_of(tmp_path, HEAD + GAPS))
    )
