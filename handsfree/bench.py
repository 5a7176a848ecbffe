"""The loop: sound or keys in, journal and answers out. The only place where the rooms meet.

Sound becomes a `Hearing`, a `Decision`, commands, events and one reply; keys enter at the
commands. An event is in the journal before its reply is given back to be spoken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.dialogue import Answer, asks_first, greeting, respond, respond_to_decision, together
from handsfree.errors import KeypadError
from handsfree.hear import Hearing, Utterance
from handsfree.hear.ears import Ear, Ears, evidence
from handsfree.judge import make_ready
from handsfree.plan import Plan
from handsfree.record import Draft, Event, Heard, Journal, Kind, Session, check_same_plan, fold, opening, step
from handsfree.speak import SILENCE, Reply, Tone, Wording
from handsfree.understand import Command, Decision, Outcome, Turns, decide, pad_for


@dataclass(frozen=True, slots=True)
class Exchange:
    """One thing said or keyed and what came of it.

    events: what the journal took, in order. hearing, decision: None for the keypad.
    """

    source: str
    words: str
    commands: tuple[Command, ...]
    events: tuple[Event, ...]
    reply: Reply
    hearing: Hearing | None = None
    decision: Decision | None = None


class Bench:
    """A session at work.

    Args:
        plan: what is to be measured.
        journal: where events go, before they are answered.
        ears: recognisers; needed only for sound.
        wording: the words of the answers.
        cautions: speak the cautions of a check at its start; not where nothing is worked on.
    """

    def __init__(
        self,
        plan: Plan,
        journal: Journal,
        ears: Ears | None = None,
        wording: Wording | None = None,
        *,
        cautions: bool = True,
    ) -> None:
        self.plan = plan
        self.session: Session
        self._journal = journal
        self._ears = ears
        self._say = wording or Wording(unit=plan.checks[0].unit)
        self._last: Reply | None = None
        self._asked_in_a_row = 0
        self._cautions = cautions

    def open(self, **facts: str) -> Exchange:
        """Begin, or go on where the journal stopped, and greet with the position in hand.

        facts: what belongs on the sheet, such as who measures.

        Raises:
            JournalError: the journal was made with another plan.
        """
        events = self._journal.events()
        check_same_plan(self.plan, events)
        self.session = fold(self.plan, events)
        check = self.plan.check(self.session.check)
        if not events:
            taken = self._take([opening(self.plan, **facts)])
            reply = greeting(self._say, self.session, cautions=self._cautions)
        else:
            taken = self._take([Draft(Kind.RESUMED, check=check.name, position=self.session.position)])
            done = len(self.session.results(check.name))
            total = len(check.positions)
            reply = self._say.resumed(done, total, self.session.position if done < total else None)
        self._last = reply
        return Exchange("start", "", (), taken, reply)

    def hear(self, utterance: Utterance, origin: str | None = None, sound: str | None = None) -> Exchange:
        """Take an utterance. `origin` and `sound` name where it came from and where it is kept."""
        hearing = self.recognise(utterance)
        return self.heard(hearing, self.weigh(hearing), origin, sound)

    def recognise(self, utterance: Utterance) -> Hearing:
        """Give the words of an utterance; nothing happens. May be called from another thread."""
        return self._ear.recogniser.hear(utterance)

    def weigh(self, hearing: Hearing) -> Decision:
        """Decide what may be done with what was heard, here and now; nothing happens."""
        ear = self._ear
        context = ear.listening.at(self.session.position, self.plan.check(self.session.check))
        return decide(evidence(hearing), ear.listening.automaton, context)

    def heard(
        self, hearing: Hearing, decision: Decision, origin: str | None = None, sound: str | None = None
    ) -> Exchange:
        """Take what a recogniser heard and what was decided about it."""
        heard = Heard(
            "voice",
            " ".join(hearing.words),
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
            events, reply = self._carry_out(commands, heard)
        else:
            asking = decision.outcome is Outcome.ASK
            self._asked_in_a_row += asking
            commands = meaning.commands if meaning and asking else ()
            answer = respond_to_decision(self._say, self.session, decision, heard, self._asked_in_a_row)
            events, reply = self._take(answer.drafts), self._spoken(answer)
        return Exchange("voice", heard.words, commands, events, reply, hearing, decision)

    def key(self, entry: str, origin: str | None = None) -> Exchange:
        """Take an entry of the keypad, the keys before Enter."""
        check = self.plan.check(self.session.check)
        pad = pad_for(self.plan, check, self.session.position)
        heard = Heard("keypad", entry, origin=origin)
        try:
            command = pad.command(entry)
        except KeypadError as error:
            reply = Reply(str(error), spoken="Not a key entry. Key it again.", tone=Tone.AGAIN)
            return Exchange("keypad", entry, (), (), reply)
        events, reply = self._carry_out((command,), heard)
        return Exchange("keypad", entry, (command,), events, reply)

    @property
    def _ear(self) -> Ear:
        if self._ears is None:
            raise RuntimeError("this bench was made without ears")
        return self._ears.ear(self.session.check)

    def _carry_out(self, commands: Sequence[Command], heard: Heard) -> tuple[tuple[Event, ...], Reply]:
        """Carry out the commands of one breath in order; the answers are joined.

        What must be asked about comes last, so that the question is still open when it is answered.
        """
        events: list[Event] = []
        replies: list[Reply] = []
        meant = together(self.session, commands)
        for command in sorted(meant, key=lambda command: asks_first(self.session, command)):
            answer = respond(self._say, self.session, command, heard, self._last)
            events.extend(self._take(answer.drafts))
            if isinstance(command, Turns):
                make_ready()
            if answer.reply is not SILENCE:
                replies.append(answer.reply)
        reply = _joined(replies)
        return tuple(events), self._spoken(Answer((), reply))

    def _take(self, drafts: Sequence[Draft]) -> tuple[Event, ...]:
        taken = []
        for draft in drafts:
            event = self._journal.append(draft)
            self.session = step(self.session, event)
            taken.append(event)
        return tuple(taken)

    def _spoken(self, answer: Answer) -> Reply:
        reply = answer.reply
        if reply is SILENCE:  # chatter gets no answer, not even that the disk is full
            return reply
        self._last = reply
        if self._journal.trouble:
            # kept in memory and written when it can be; but it must not be called logged
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
