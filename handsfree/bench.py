"""The bench: sound or keys in, journal and answers out. The only place where the rooms meet.

Sound becomes a `Hearing`, a `Decision`, commands, events and one reply; keys become commands directly. An
event is in the journal before its reply is returned.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from handsfree.dialogue import (
    Answer,
    asks_first,
    can_be_meant,
    greeting,
    judged_anew,
    replies_to,
    respond,
    respond_to_decision,
    still_open,
    to_judge,
    together,
)
from handsfree.ears import Ear, Recognisers, evidence
from handsfree.errors import KeypadError
from handsfree.hear import Hearing, HearsReplies, Utterance, never
from handsfree.journal import Draft, Event, Heard, Journal, Kind, Sounds
from handsfree.plan import Plan, Rule
from handsfree.session import (
    ASKED_AGAIN,
    PASSED_OVER,
    UNLOGGED,
    Change,
    ChangedPlan,
    Session,
    change_of_plan,
    check_same_plan,
    fold,
    opening,
    plan_changed,
    step,
)
from handsfree.speak import SILENCE, Reply, Tone, Wording
from handsfree.understand import (
    Bracket,
    Command,
    Control,
    Decision,
    Meaning,
    Outcome,
    Reading,
    Replies,
    Word,
    as_said,
    meanings,
    pad_for,
    weighed,
)

if TYPE_CHECKING:
    from handsfree.adapt import People, Spoke

HINT_PAUSE_S = 15.0
"""No two hints come closer together: who gets one and talks on doesn't talk to the bench."""

STRANGER_PAUSE_S = 30.0
"""So long after a question about another voice's words what it says is ignored, once that is closed."""

_YES_NO = (Control(Word.AFFIRM), Control(Word.NEGATIVE))


@dataclass(frozen=True, slots=True)
class Exchange:
    """One utterance or keypad entry and its result.

    events: the logged events, in order. hearing, decision: None for the keypad.
    """

    source: str
    words: str
    commands: tuple[Command, ...]
    events: tuple[Event, ...]
    reply: Reply
    hearing: Hearing | None = None
    decision: Decision | None = None


class Bench:
    """A session in progress.

    Args:
        plan: the plan.
        journal: the journal, written before each answer.
        ears: recognisers; needed only for sound.
        wording: the words of the answers.
        cautions: tell the cautions of a check at its start; not where nothing is worked on.
        cautioned: they were told today, so that a short reminder is enough.
        sounds: where the sound of what was logged by voice is kept; None keeps none.
        people: whose voices are known; None treats all voices alike.
    """

    def __init__(
        self,
        plan: Plan,
        journal: Journal,
        ears: Recognisers | None = None,
        wording: Wording | None = None,
        *,
        cautions: bool = True,
        cautioned: bool = False,
        sounds: Sounds | None = None,
        people: People | None = None,
    ) -> None:
        self.plan = plan
        self.session: Session
        self._journal = journal
        self._ears = ears
        self._say = wording or Wording(unit=plan.checks[0].unit)
        self._last: Reply | None = None
        self._asked_in_a_row = 0
        self._replies: Replies | None = None
        self._cautions = cautions
        self._cautioned = cautioned
        self._sounds = sounds
        self._sound_lost = False
        self._unlogged: Counter[str] = Counter()
        self._hinted_s = -HINT_PAUSE_S  # in the time of the stream that it was heard in
        self._people = people
        self._spoke: Spoke | None = None  # of the utterance being acted on
        self._stranger: tuple[str, Spoke] | None = None  # the id of the question about his words
        self._stranger_s = -STRANGER_PAUSE_S  # when it was asked, in the time of the stream

    def open(self, changed_plan: ChangedPlan | None = None, **facts: str) -> Exchange:
        """Begin the session, or resume it from the journal, and greet with the position in hand.

        Args:
            changed_plan: how to continue if the plan was edited since; None refuses that.
            facts: facts for the sheet, such as who measures.

        Raises:
            JournalError: the journal has another plan, and `changed_plan` is None.
        """
        events = self._journal.events()
        if changed_plan is None:
            check_same_plan(self.plan, events)
        self.session = fold(self.plan, events)
        change = change_of_plan(self.plan, events)
        changed = () if change is None or changed_plan is None else self._change(change, changed_plan)
        check = self.plan.check(self.session.check)
        if not events:
            taken = self._take([opening(self.plan, **facts)])
            reply = greeting(self._say, self.session, tell=self._cautions, told=self._cautioned)
        else:
            resumed = Draft(Kind.RESUMED, check=check.name, position=self.session.position, data={**facts})
            taken = self._take([resumed])
            total = len(check.positions)
            done = total - len(still_open(self.session, check))
            here = self.session.position if done < total else None
            remind = self._cautions and check.rule is Rule.FILE_TO_GAP
            reply = self._say.resumed(done, total, here, remind=remind)
        if changed and change is not None:
            reply = self._with_change(reply, change, changed)
        taken = (*changed, *taken)
        self._last = reply
        return Exchange("start", "", (), taken, reply)

    def _change(self, change: Change, how: ChangedPlan) -> tuple[Event, ...]:
        """Log the change of plan and, if requested, the readings judged again under it."""
        taken = self._take([plan_changed(self.plan, change, how, self.session)])
        if how is ChangedPlan.JUDGE:
            for entry in to_judge(self.session):
                draft = judged_anew(self._say, self.session, entry)
                taken += () if draft is None else self._take([draft])
            here = taken[0].draft
            if len(taken) > 1:  # a correction moves to its place: return to the position in hand
                taken += self._take([Draft(Kind.MOVE, check=here.check, position=here.position)])
        return taken

    def _with_change(self, reply: Reply, change: Change, events: Sequence[Event]) -> Reply:
        """Return the greeting with a sentence on the changed plan and the readings under it."""
        anew = [event.draft for event in events if event.kind is Kind.CORRECTION]
        told = [
            f"{draft.position.key if draft.position else ''} {draft.value}: {draft.verdict}" for draft in anew
        ]
        shown = f"The plan was changed: {change.sentence}."
        shown += f" Judged anew: {'; '.join(told)}." if told else ""
        spoken = self._say.trouble("plan_judged_anew" if told else "plan_changed").aloud
        return replace(reply, text=f"{shown} {reply.text}", spoken=f"{spoken} {reply.aloud}")

    def hear(self, utterance: Utterance, origin: str | None = None) -> Exchange:
        """Recognise an utterance and act on it. `origin`: the name of its source."""
        hearing = self.recognise(utterance)
        return self.heard(hearing, self.weigh(hearing), origin, utterance)

    def recognise(self, utterance: Utterance, cancelled: Callable[[], bool] = never) -> Hearing:
        """Return the words of an utterance, without acting on them. May be called from another thread.

        While a question is open its replies are tried first.

        Raises:
            DecodingCancelledError: soon after `wanted` returned False.
        """
        recogniser, replies = self._ear.recogniser, self._open_replies()
        if replies is not None and isinstance(recogniser, HearsReplies):
            return recogniser.hear_reply(utterance, replies, cancelled)
        return recogniser.hear(utterance, cancelled)

    def weigh(self, hearing: Hearing) -> Decision:
        """Return the decision on a hearing in the present state, without acting on it."""
        ear, asked = self._ear, self.session.asked
        if hearing.asked is not None and (asked is None or asked.id != hearing.asked):
            return Decision(Outcome.ASK)  # its question was settled by key while it was being heard
        context = ear.listening.at(
            self.session.position, self.plan.check(self.session.check), partial(can_be_meant, self.session)
        )
        if hearing.asked is not None:
            return Decision(Outcome.ACCEPT, meanings(hearing.words, ear.listening.automaton, context))
        return weighed(evidence(hearing), hearing.free, ear.listening.automaton, context, ear.thresholds)

    def heard(
        self,
        hearing: Hearing,
        decision: Decision,
        origin: str | None = None,
        utterance: Utterance | None = None,
    ) -> Exchange:
        """Act on a hearing and its decision; `utterance` is its sound."""
        self._spoke = self._speaker(decision, utterance)
        decision = self._by_whom(hearing, decision)
        sound = self._keep_sound(decision, utterance)
        if decision.near is not None and self._hinted_lately(hearing):
            decision = Decision(Outcome.IGNORE)
        said = hearing.free if decision.near is not None else None
        heard = Heard(
            "voice",
            said or " ".join(hearing.words if decision.words is None else decision.words),
            hearing.recogniser,
            hearing.fit,
            hearing.margin,
            " ".join(hearing.runner_up) if hearing.runner_up else None,
            origin,
            sound,
        )
        meaning = decision.meaning
        if decision.outcome is Outcome.ACCEPT and meaning is not None:
            self._asked_in_a_row = 0
            commands = meaning.commands
            self._admit_affirmed(commands)
            events, reply = self._carry_out(commands, heard)
            self._learn(events)
        else:
            asking = decision.outcome is Outcome.ASK
            self._asked_in_a_row += asking
            commands = meaning.commands if meaning and asking else ()
            answer = respond_to_decision(self._say, self.session, decision, heard, self._asked_in_a_row)
            events, reply = self._take(answer.drafts), self._spoken(answer)
            if not events:
                self._unlogged[PASSED_OVER if reply is SILENCE else ASKED_AGAIN] += 1
            self._note_stranger(hearing)
        self._spoke = None
        if self._sounds is not None:
            reply = self._settle_sound(self._sounds, sound, events, reply)
        return Exchange("voice", heard.words, commands, events, reply, hearing, decision)

    def _speaker(self, decision: Decision, utterance: Utterance | None) -> Spoke | None:
        """Return whose voice it is, where that matters."""
        talk = decision.outcome is Outcome.IGNORE and decision.near is None
        if self._people is None or utterance is None or talk:
            return None
        return self._people.spoke(utterance.samples)

    def _by_whom(self, hearing: Hearing, decision: Decision) -> Decision:
        """Return the decision for this speaker: another voice is asked about once, and gets no hints."""
        spoke = self._spoke
        if spoke is None or not spoke.by_another or self._answers(hearing, decision):
            return decision
        lately = not self._strangers_question() and (0 <= hearing.end_s - self._stranger_s < STRANGER_PAUSE_S)
        if decision.near is not None or lately:
            return Decision(Outcome.IGNORE)
        return replace(decision, outcome=Outcome.ASK)

    def _answers(self, hearing: Hearing, decision: Decision) -> bool:
        """Whether an utterance answers the question about another voice's words: any voice may."""
        if not self._strangers_question():
            return False
        said = () if decision.meaning is None else decision.meaning.commands
        return hearing.asked is not None or any(one in _YES_NO for one in said)

    def _strangers_question(self) -> bool:
        """Whether another voice's words are asked about now; who repeats them may be known after all."""
        asked, stranger = self.session.asked, self._stranger
        return asked is not None and stranger is not None and asked.id == stranger[0]

    def _note_stranger(self, hearing: Hearing) -> None:
        """Remember whose words the question is about."""
        asked = self.session.asked
        if self._spoke is not None and self._spoke.by_another and asked is not None:
            self._stranger, self._stranger_s = (asked.id, self._spoke), hearing.end_s

    def _admit_affirmed(self, commands: Sequence[Command]) -> None:
        """Admit another voice to this session once its command was affirmed."""
        asked, stranger = self.session.asked, self._stranger
        if self._people is None or stranger is None or asked is None or asked.id != stranger[0]:
            return
        if Control(Word.AFFIRM) in commands:
            self._people.admit(stranger[1], self._spoke)
        self._stranger = None

    def _learn(self, events: Sequence[Event]) -> None:
        """Learn the voice of commands that nobody corrects."""
        if self._people is None:
            return
        if any(event.kind in (Kind.VOID, Kind.CORRECTION) for event in events):
            self._people.corrected()
        elif events or self._spoke is not None:
            self._people.taken(self._spoke)

    def _hinted_lately(self, hearing: Hearing) -> bool:
        """Whether a hint was given a moment ago; if not, one is given now."""
        if 0 <= hearing.end_s - self._hinted_s < HINT_PAUSE_S:
            return True
        self._hinted_s = hearing.end_s
        return False

    def _keep_sound(self, decision: Decision, utterance: Utterance | None) -> str | None:
        """Save the sound of a size, or of the answer to a question about one, before its event names it."""
        if self._sounds is None or utterance is None or decision.outcome is Outcome.IGNORE:
            return None
        said = (command for meaning in decision.meanings for command in meaning.commands)
        if self.session.asked is None and not any(isinstance(one, Reading | Bracket) for one in said):
            return None
        return self._sounds.save(utterance.samples)

    def _settle_sound(
        self, sounds: Sounds, sound: str | None, events: Sequence[Event], reply: Reply
    ) -> Reply:
        """Drop a sound that no event names; report once if sounds can't be kept."""
        named = any(event.draft.heard is not None and event.draft.heard.sound == sound for event in events)
        if sound is not None and not named:
            sounds.withdraw()
        lost = sounds.trouble
        if lost is not None and not self._sound_lost and reply is not SILENCE:
            reply = replace(reply, text=f"{reply.text} {lost}".strip(), spoken=reply.aloud)
            self._last = reply
        self._sound_lost = lost is not None
        return reply

    def key(self, entry: str, origin: str | None = None) -> Exchange:
        """Act on an entry of the keypad, the keys before Enter."""
        check = self.plan.check(self.session.check)
        pad = pad_for(self.plan, check, self.session.position)
        heard = Heard("keypad", entry, origin=origin)
        try:
            command = pad.command(entry)
        except KeypadError as error:
            reply = Reply(str(error), spoken="Not a key entry. Key it again.", tone=Tone.AGAIN)
            return Exchange("keypad", entry, (), (), reply)
        meant = self._as_said(command)
        if not meant.sure:
            self._asked_in_a_row += 1
            answer = respond_to_decision(
                self._say, self.session, Decision(Outcome.ASK, (meant,)), heard, self._asked_in_a_row
            )
            return Exchange("keypad", entry, meant.commands, self._take(answer.drafts), self._spoken(answer))
        events, reply = self._carry_out(meant.commands, heard)
        self._learn(events)
        return Exchange("keypad", entry, meant.commands, events, reply)

    def _as_said(self, command: Command) -> Meaning:
        """Take a keyed number by the rules of spoken ones; everything else as it is."""
        if not isinstance(command, Reading) or command.feel is not None:
            return Meaning((command,))
        check, here = self.plan.check(self.session.check), self.session.position
        place = here if command.position is None else command.position.within(here)
        return as_said(command, check.windows.get(place))

    @property
    def _ear(self) -> Ear:
        if self._ears is None:
            raise RuntimeError("this bench was made without ears")
        return self._ears.ear(self.session.check)

    def _open_replies(self) -> Replies | None:
        """Return the replies to the open question; cached."""
        session, known = self.session, self._replies
        if session.asked is None or (known is not None and known.question == session.asked.id):
            return known if session.asked is not None else None
        self._replies = replies_to(session, self._ear.listening)
        return self._replies

    def _carry_out(self, commands: Sequence[Command], heard: Heard) -> tuple[tuple[Event, ...], Reply]:
        """Carry out the commands of one utterance in order, and join the answers.

        A command that raises a question comes last, so that the question is still open when it is answered.
        """
        events: list[Event] = []
        replies: list[Reply] = []
        meant = together(self.session, commands)
        for command in sorted(meant, key=lambda command: asks_first(self.session, command)):
            answer = respond(self._say, self.session, command, heard, self._last)
            events.extend(self._take(answer.drafts))
            if answer.reply is not SILENCE:
                replies.append(answer.reply)
        reply = _joined(replies)
        return tuple(events), self._spoken(Answer((), reply))

    def _take(self, drafts: Sequence[Draft]) -> tuple[Event, ...]:
        taken = []
        facts = {} if self._spoke is None else self._spoke.facts()
        for draft in drafts:
            by_voice = facts if draft.heard is not None else {}
            told = replace(draft, data={**draft.data, **by_voice}) if by_voice else draft
            event = self._journal.append(self._with_unlogged(told))
            self.session = step(self.session, event)
            taken.append(event)
        return tuple(taken)

    def _with_unlogged(self, draft: Draft) -> Draft:
        """Return a draft with the counts of the utterances since the last event that have none."""
        counts, self._unlogged = dict(self._unlogged), Counter()
        return replace(draft, data={**draft.data, UNLOGGED: counts}) if counts else draft

    def _spoken(self, answer: Answer) -> Reply:
        reply = answer.reply
        if reply is SILENCE:  # chatter gets no answer, not even about a full disk
            return reply
        self._last = reply
        if self._journal.trouble:
            # kept in memory and written later; but the answer must not say "logged"
            text = f"{reply.text} {self._journal.trouble}".strip()
            spoken = f"{reply.aloud} {self._say.trouble('not_logged').aloud}".strip()
            return Reply(text, spoken, Tone.AGAIN, reply.expects)
        return reply


def _joined(replies: Sequence[Reply]) -> Reply:
    if not replies:
        return SILENCE
    if len(replies) == 1:
        return replies[0]
    return Reply(
        " ".join(reply.text for reply in replies),
        " ".join(reply.aloud for reply in replies),
        replies[-1].tone,
        replies[-1].expects,
    )
