"""Whose voice it is, who may be acted on unasked, and what is kept of a voice."""

from __future__ import annotations

import stat
from functools import partial

import numpy as np
import pytest

from handsfree import cli
from handsfree.adapt import ENOUGH, ME, People, forget_voices, load_voices, voices_path
from handsfree.adapt.people import KEPT, Whose, alike, limit_of
from handsfree.bench import STRANGER_PAUSE_S, Bench
from handsfree.dialogue import can_be_meant
from handsfree.errors import ModelError
from handsfree.hear import SAMPLERATE_HZ, VOICE_SIZE, Hearing, Utterance, VoiceModel
from handsfree.journal import Journal, Kind, verify
from handsfree.understand import Decision, Evidence, Near, Outcome, decide
from tests.dialogue.talk import listening_for, plan_of_three_checks

pytestmark = pytest.mark.quick

ROBIN, SAM, RADIO = 1, 2, 3


class Network:
    """Tells voices by the level of the sound: each level is a direction of its own."""

    def voice(self, samples):
        level = int(np.abs(samples).max()) // 1000
        voice = np.zeros(VOICE_SIZE, np.float32)
        voice[level] = 1.0
        return voice


def sound(level: int, seconds: float = 1.5) -> Utterance:
    samples = np.full(int(seconds * SAMPLERATE_HZ), level * 1000, np.int16)
    return Utterance(samples, 0.0, seconds)


def people(path=None, known=None) -> People:
    voices = {"Robin": [Network().voice(sound(ROBIN).samples)] * ENOUGH} if known is None else known
    return People("Robin", Network(), voices, path)


class Said:
    """A bench that is spoken to in several voices, each utterance a second after the one before."""

    def __init__(self, who: People, journal: Journal) -> None:
        self.plan = plan_of_three_checks()
        self.bench = Bench(self.plan, journal, people=who)
        self.bench.open()
        self.now_s = 0.0

    def say(self, words: str, level: int, fit: float = -0.1, wait_s: float = 1.0, seconds: float = 1.5):
        self.now_s += wait_s
        check = self.plan.check(self.bench.session.check)
        listening = listening_for(self.plan, check.name)
        here = listening.at(self.bench.session.position, check, partial(can_be_meant, self.bench.session))
        split = tuple(words.split())
        hearing = Hearing(split, self.now_s, self.now_s, "test", fit=fit, margin=8.0)
        decision = decide(Evidence(split, fit, 8.0), listening.automaton, here)
        return self.bench.heard(hearing, decision, utterance=sound(level, seconds))

    @property
    def logged(self) -> int:
        return len(self.bench.session.log())


@pytest.fixture
def said():
    with Journal.in_memory() as journal:
        yield Said(people(), journal)


def test_the_known_voice_is_taken_and_the_journal_keeps_who_with_how_sure(said):
    exchange = said.say("eighteen", ROBIN)
    assert said.logged == 1
    assert exchange.events[0].draft.data["voice"] == {"like": "Robin", "alike": 1.0, "whose": "known"}


def test_another_voice_is_never_acted_on_unasked(said):
    exchange = said.say("eighteen", RADIO)
    assert said.logged == 0
    assert [event.kind for event in exchange.events] == [Kind.ASKED]
    assert exchange.reply.text
    assert exchange.events[0].draft.data["voice"]["whose"] == "other"


def test_it_is_asked_about_once_and_then_ignored_for_a_while(said):
    said.say("eighteen", RADIO)
    said.say("nineteen", ROBIN)
    assert said.logged == 1  # the radio's question is nothing to Robin
    again = said.say("twelve", RADIO, wait_s=STRANGER_PAUSE_S - 5)
    assert again.decision.outcome is Outcome.IGNORE
    assert not again.reply.text
    later = said.say("twelve", RADIO, wait_s=STRANGER_PAUSE_S)
    assert later.reply.text
    assert said.logged == 1


def test_who_repeats_what_is_asked_about_is_asked_again_and_never_left_in_silence(said):
    said.say("eighteen", RADIO)
    again = said.say("eighteen", RADIO)
    assert again.decision.outcome is Outcome.ASK
    assert again.reply.text
    assert said.logged == 0


def test_a_second_person_takes_over_once_he_has_affirmed_his_first_command(said):
    said.say("eighteen", SAM)
    said.say("affirm", SAM, seconds=0.5)  # too short to tell: any voice may answer
    assert said.logged == 1
    said.say("cylinder one second nineteen", SAM)
    assert said.logged == 2
    assert said.bench.session.asked is None


def test_who_affirms_a_neighbours_number_admits_the_number_and_not_the_neighbour(said):
    said.say("eighteen", RADIO)
    said.say("affirm", ROBIN)
    assert said.logged == 1
    said.say("nineteen", RADIO, wait_s=2 * STRANGER_PAUSE_S)
    assert said.logged == 1


def test_another_voice_answers_no_question_of_the_known_one(said):
    said.say("eighteen", ROBIN, fit=-1.5)  # doubtful: asked about
    assert said.bench.session.asked is not None
    said.say("affirm", RADIO)
    assert said.logged == 0
    assert said.bench.session.asked is not None
    said.say("affirm", ROBIN)
    assert said.logged == 1


def test_a_neighbours_number_that_is_denied_is_not_logged(said):
    said.say("eighteen", RADIO)
    said.say("negative", ROBIN)
    assert said.logged == 0


def test_a_short_sound_tells_too_little_and_is_taken_as_before(said):
    said.say("eighteen", RADIO, seconds=0.5)
    assert said.logged == 1


@pytest.mark.parametrize(("level", "hinted"), [(ROBIN, True), (RADIO, False)])
def test_only_the_person_at_the_bench_gets_hints(said, level, hinted):
    hearing = Hearing((), 99.0, 100.0, "test", free="put down eighteen")
    near = Decision(Outcome.ASK, near=Near(said="put down eighteen"))
    assert bool(said.bench.heard(hearing, near, utterance=sound(level)).reply.text) is hinted


def test_a_voice_is_learned_from_commands_that_nobody_corrected(tmp_path):
    path = tmp_path / "voices.json"
    with Journal.in_memory() as journal:
        said = Said(people(path, known={}), journal)
        for _ in range(ENOUGH):
            said.say("eighteen", ROBIN)
        said.say("eighteen", RADIO)  # the sixth is certain only now; nobody is known yet, so it is taken
        assert len(load_voices(path)["Robin"]) == ENOUGH
        said.say("disregard", ROBIN)  # and the radio's is withdrawn: nothing is learned of it
        before = said.logged
        said.say("eighteen", RADIO)
        assert said.logged == before
    assert alike(Network().voice(sound(RADIO).samples), load_voices(path)["Robin"]) == 0


def test_keys_are_nobodys_voice():
    with Journal.in_memory() as journal:
        said = Said(people(), journal)
        assert "voice" not in said.bench.key("18").events[0].draft.data


def test_a_journal_with_voices_holds(tmp_path):
    with Journal.open(tmp_path / "j") as journal:
        said = Said(people(), journal)
        said.say("eighteen", ROBIN)
        said.say("nineteen", RADIO)
    assert verify(tmp_path / "j").holds


def test_voices_are_kept_private_and_only_the_newest(tmp_path):
    path = tmp_path / "new" / "voices.json"
    one = people(path, known={})
    one.learn([Network().voice(sound(1 + n % 2).samples) for n in range(KEPT + 5)])
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    kept = load_voices(path)["Robin"]
    assert len(kept) == KEPT
    assert kept[-1] == pytest.approx(Network().voice(sound(1).samples))
    People("Sam", Network(), load_voices(path), path).learn([Network().voice(sound(SAM).samples)])
    assert set(load_voices(path)) == {"Robin", "Sam"}
    forget_voices(["Robin"], path)
    assert set(load_voices(path)) == {"Sam"}
    forget_voices(["Sam"], path)
    assert not path.exists()


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"format": 9}', '{"format": 1, "people": {"R": ["x", 3, "AAAA"]}}']
)
def test_an_unreadable_file_counts_as_nobody(tmp_path, content):
    (tmp_path / "v").write_text(content)
    assert load_voices(tmp_path / "v") == {}


def test_voices_are_listed_and_forgotten_by_name(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert cli.main(["adapt", "--voices"]) == 0
    assert "No voice is known" in capsys.readouterr().out
    People(ME, Network(), {}, voices_path()).learn([Network().voice(sound(ROBIN).samples)] * ENOUGH)
    assert cli.main(["adapt", "--voices"]) == 0
    assert capsys.readouterr().out == "me: 6 phrases, known\n"
    assert cli.main(["adapt", "--forget", "Sam"]) == 2
    assert "no voice is known as Sam; use one of: me" in capsys.readouterr().err
    assert cli.main(["adapt", "--forget", "me"]) == 0
    assert not voices_path().exists()
    assert cli.main(["adapt", "--forget", "all"]) == 0


@pytest.mark.parametrize(
    ("likeness", "whose"),
    [(0.81, Whose.OWN), (0.79, Whose.UNSURE), (0.72, Whose.UNSURE), (0.69, Whose.OTHER)],
)
def test_likeness_decides_whose_voice_it_is(likeness, whose):
    turned = np.zeros(VOICE_SIZE, np.float32)
    turned[ROBIN], turned[RADIO] = likeness, np.sqrt(1 - likeness**2)
    assert people().judged(turned, 0.7).whose is whose


def test_less_is_told_by_short_and_noisy_speech():
    rng = np.random.default_rng(2)

    def speech(seconds: float, noise: float) -> np.ndarray:
        time = np.arange(int(seconds * SAMPLERATE_HZ))
        return (rng.normal(0, 3000, len(time)) * (time // 3000 % 2) + rng.normal(0, noise, len(time))).astype(
            np.int16
        )

    clear, noisy = limit_of(speech(2, 1)), limit_of(speech(2, 700))
    assert limit_of(speech(1, 1)) < clear
    assert limit_of(speech(1, 700)) < noisy < clear


def test_a_network_that_cannot_be_loaded_is_told_of_before_the_work_begins(tmp_path):
    """In mid-session its fault would end the session."""
    broken = tmp_path / "voices.onnx"
    broken.write_bytes(b"no network")
    with pytest.raises(ModelError, match="can't be loaded"):
        People("Robin", VoiceModel(broken)).warm_up()
    People("Robin", VoiceModel()).warm_up()
