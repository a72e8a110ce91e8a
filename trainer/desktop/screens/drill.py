"""The drill: the picture owns the window, the answer strip stands below it.

The rules are trainer.practice.session's; this screen turns keys into its events, saves each answer before
the next item is shown, and hides the picture whenever the item's clock stands still.
"""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import events, sittings, work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, FocusGained, FocusLost, Key, OnDisplay, Refused, Tick
from trainer.desktop.messages import Back, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Bare
from trainer.desktop.pictures import Shot
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens import guarded, sighted
from trainer.desktop.screens.answering import PLAIN_READINGS, typable, words_of
from trainer.desktop.screens.strip import body, strip
from trainer.desktop.sittings import Note, SaveAnswer, Sitting
from trainer.desktop.words import say
from trainer.practice import session as rules
from trainer.practice.items import Answer
from trainer.practice.refreshers import eye_rest
from trainer.practice.session import Session
from trainer.practice.telling import told as told_of


@dataclass(frozen=True, slots=True)
class Drill(Plain):
    """A sitting under way. `unsaved` are answers that the archive has not confirmed yet."""

    sitting: Sitting
    session: Session
    unsaved: tuple[Answer, ...] = ()
    refused: str = ""
    keypad: bool | None = None
    leaving: bool = False
    closes: bool = False  # leaving it closes the window
    rested_s: float | None = None  # when the eyes last had a rest, or the sitting began
    least_px: float | None = None  # pixels a millimetre: the smallest the item was seen at, if resized
    guarded = True

    @classmethod
    def of(cls, sitting: Sitting) -> "Drill":
        """Return the drill of a sitting, ready to begin or to go on."""
        return cls(sitting, rules.start(sitting.plan, sitting.items, sitting.answers))

    # ---- what is seen ------------------------------------------------------------------------

    @property
    def shows_item(self) -> bool:
        """Whether the picture may be seen: never while the clock stands still or an answer is unsaved."""
        held = self.session.phase == "reading" and (self.refused or self.unsaved)
        return self.session.phase in ("reading", "feedback") and not held

    def shot(self, now_s: float) -> Shot:
        """Return the picture as it is to be seen now; hidden while no item may be seen."""
        return sighted.shot(self, now_s)

    def words(self) -> tuple[str, ...]:
        """Return the words that can answer the present question."""
        return words_of(self.session)

    def notes(self) -> tuple[str, ...]:
        """Return the sentences of the feedback, where the strip does not say it all."""
        if self.session.kind.name in PLAIN_READINGS:
            return ()
        found = told_of(self.session)
        return found.lines if found is not None else ()

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        return Bare(body(self, desk), strip(self, desk))

    def first_focus(self, desk: Desk) -> str:
        """The one thing to do next."""
        if self.refused:
            return "retry"
        reading = "thimble" if self.session.turning is not None else "answer"
        if self.session.kind.unit == "words":
            reading = f"word:{words_of(self.session)[0]}"
        return {"ready": "begin", "reading": reading, "feedback": "next", "paused": "resume"}.get(
            self.session.phase, ""
        )

    def tick_s(self, desk: Desk) -> float | None:
        """Ask for the time only while a time limit or a short exposure runs."""
        session = self.session
        if session.phase != "reading":
            return None
        waits = []
        if session.plan.seconds_each is not None:
            waits.append(min(0.25, session.remaining_s(desk.now_s) or 0.0))
        exposure_s = session.plan.exposure_seconds
        if exposure_s is not None and session.in_view(desk.now_s):
            waits.append(exposure_s - session.elapsed_s(desk.now_s))
        return max(0.01, min(waits)) if waits else None

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have the next item dealt where the drill is dealt as one goes."""
        return self._dealing(self.session)

    def _dealing(self, session: Session) -> tuple[Effect, ...]:
        if not session.wants_item:
            return ()
        return (sittings.DealNext(self.sitting.session_id, session, self.sitting.seed),)

    def closing(self, desk: Desk) -> tuple[Effect, ...]:
        """The window closes in mid-drill: the session stays open, to be gone on with."""
        unsaved = (SaveAnswer(self.sitting.session_id, answer) for answer in self.unsaved)
        return (
            *unsaved,
            self._note("window-closed", desk),
            *guarded.left(self.sitting, self._note("left", desk)),
        )

    # ---- what comes of a message -------------------------------------------------------------

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        if self.leaving:
            return self._leaving(message, desk)
        match message:
            case Edited("answer", value):
                text = str(value) if self.session.kind.unit == "words" else typable(str(value))
                return self._stepped(rules.Edited(text[:40]), desk)
            case Edited("thimble", change, at_s) if self.session.turning is not None:
                position = self.session.turning.position_tenths + float(change)
                return self._stepped(rules.Turned(position, at_s), desk)
            case Entered("answer" | "thimble", at_s) | Pressed("enter", at_s):
                return self._stepped(rules.Entered(at_s, desk.utc(at_s)), desk)
            case Key() if not message.repeat:
                return self._key(message, desk)
            case Pressed(key, at_s):
                return self._pressed(key, at_s, desk)
            case Back(at_s):
                return self._ask_to_leave(at_s, desk)
            case Tick(at_s):
                return self._stepped(rules.Ticked(at_s, desk.utc(at_s)), desk)
            case FocusLost():
                return Outcome(effects=(self._note("focus-lost", desk),))
            case FocusGained() if self.sitting.ticket:
                return Outcome(effects=(self._note("focus-back", desk),))
            case events.Minimised(at_s) if self.session.phase == "reading":
                return self._pressed("pause", at_s, desk)
            case events.Resized():
                return sighted.resized(self, desk)
            case OnDisplay(name):
                moved = Note(self.sitting.session_id, "display-changed", desk.utc(desk.now_s), name)
                return Outcome(effects=(moved,))
            case Arrived("saveanswer", number):
                return self._saved(int(str(number)), desk)
            case Refused("saveanswer" | "dealnext", reason):
                return Outcome(screen=replace(self, refused=reason), focus="retry")
            case Arrived("dealnext", (session_id, item)) if session_id == self.sitting.session_id:
                return self._stepped(rules.Dealt(item, desk.now_s), desk)
        return Outcome()

    def _key(self, key: Key, desk: Desk) -> Outcome:
        """Act on the keys that need no focus; those of the numeric pad keep one hand on it."""
        match key.name:
            case "f2" | "pad /":
                return self._pressed("skip", key.at_s, desk)
            case "f3" | "pad *":
                return self._pressed("resume" if self.session.phase == "paused" else "pause", key.at_s, desk)
            case "pad +":
                onward = {"ready": "begin", "reading": "enter", "feedback": "next", "paused": "resume"}
                return self._pressed(onward.get(self.session.phase, ""), key.at_s, desk)
        return Outcome()

    def _pressed(self, key: str, at_s: float, desk: Desk) -> Outcome:
        at = desk.utc(at_s)
        match key:
            case "enter":
                return self._stepped(rules.Entered(at_s, at), desk)
            case "skip":
                return self._stepped(rules.Skipped(at_s, at), desk)
            case "pause":
                return self._noted(self._stepped(rules.Paused(at_s), desk), "pause", desk)
            case "resume":
                return self._noted(self._stepped(rules.Resumed(at_s), desk), "resume", desk)
            case "begin":
                return self._stepped(rules.Begun(at_s), desk)
            case "next":
                return self._stepped(rules.Advanced(at_s), desk) if not self.unsaved else Outcome()
            case "leave":
                return self._ask_to_leave(at_s, desk)
            case "keypad":
                return Outcome(screen=replace(self, keypad=not self.keypad_shown(desk)), focus="answer")
            case "retry":
                saves = tuple(SaveAnswer(self.sitting.session_id, answer) for answer in self.unsaved)
                return Outcome(
                    screen=replace(self, refused=""), effects=(*saves, *self._dealing(self.session))
                )
            case _ if key.startswith("word:"):
                said = rules.step(self.session, rules.Edited(key[5:]))
                return replace(self, session=said)._stepped(rules.Entered(at_s, at), desk)
            case _ if key.startswith("digit:"):
                return self._digit(key[6:], desk)
        return Outcome()

    def _noted(self, outcome: Outcome, kind: str, desk: Desk) -> Outcome:
        """Keep that the clock stood still or went on, if it did."""
        if outcome.screen is None:
            return outcome
        return replace(outcome, effects=(*outcome.effects, self._note(kind, desk)))

    def keypad_shown(self, desk: Desk) -> bool:
        """Whether the answer keys stand on the screen: as chosen here, or else in the settings."""
        return desk.settings.keypad if self.keypad is None else self.keypad

    def _digit(self, key: str, desk: Desk) -> Outcome:
        text = self.session.typed
        return self._stepped(
            rules.Edited(
                text[:-1] if key == "erase" else text + (desk.settings.decimal if key == "." else key)
            ),
            desk,
        )

    def _stepped(self, event: rules.Event, desk: Desk) -> Outcome:
        """Let the rules take the event; save what is answered now and was not before."""
        if self.refused and not isinstance(event, rules.Left):
            return Outcome()
        if self.unsaved and self.session.phase == "reading" and not isinstance(event, rules.Dealt):
            return Outcome()  # the next item is not shown yet, so nothing can be answered
        after = rules.step(self.session, event)
        if after is self.session:
            return Outcome()
        new = after.answers[len(self.session.answers) :]
        rested_s = desk.now_s if self.rested_s is None or after.phase == "paused" else self.rested_s
        tired = eye_rest(desk.now_s, rested_s) if new and after.phase != "done" else None
        rested_s = desk.now_s if tired else rested_s
        changed = replace(self, session=after, unsaved=(*self.unsaved, *new), rested_s=rested_s)
        effects: tuple[Effect, ...] = tuple(SaveAnswer(self.sitting.session_id, a) for a in new)
        if new:
            smaller = sighted.warned(self, new[-1], desk)
            effects = (*effects, *smaller, *guarded.glance(self.sitting), *self._dealing(after))
            changed = replace(changed, least_px=None)
        if after.phase == "done" and not changed.unsaved:
            return changed._finished(desk)
        focus = changed.first_focus(desk) if after.phase != self.session.phase or new else ""
        return Outcome(screen=changed, effects=effects, focus=focus, toast=tired or "")

    def _saved(self, number: int, desk: Desk) -> Outcome:
        """An answer is on disk: the item that waited for it may be shown, and its clock starts now."""
        left = tuple(a for a in self.unsaved if a.number != number)
        if len(left) == len(self.unsaved):
            return Outcome()
        session = self.session
        if not left and session.phase == "reading":
            session = replace(session, shown_at_s=desk.now_s)
        changed = replace(self, unsaved=left, session=session, refused="" if not left else self.refused)
        if session.phase == "done" and not left:
            return changed._finished(desk)
        sounds = (work.Sound(),) if desk.settings.sounds else ()
        return Outcome(screen=changed, focus=changed.first_focus(desk), effects=sounds)

    def _finished(self, desk: Desk) -> Outcome:
        from trainer.desktop.screens.result import Result

        ended = sittings.EndSession(self.sitting.session_id, "finished", desk.utc(desk.now_s))
        if (attest := guarded.last_word(self.sitting)) is not None:
            return Outcome("replace", attest, effects=(ended,))
        return Outcome("replace", Result(self.sitting.session_id, again=self.sitting.plan), effects=(ended,))

    def _note(self, kind: str, desk: Desk) -> Effect:
        item = self.session.item
        detail = f"item {item.number}" if item is not None else ""
        return Note(self.sitting.session_id, kind, desk.utc(desk.now_s), detail)

    # ---- leaving -----------------------------------------------------------------------------

    def ask_first(self, at_s: float, desk: Desk) -> Outcome | None:
        """Ask before the window closes on a sitting under way, once."""
        if self.leaving or self.session.phase in ("ready", "done"):
            return None
        outcome = self._ask_to_leave(at_s, desk)
        return replace(outcome, screen=replace(outcome.screen, closes=True))

    def _ask_to_leave(self, at_s: float, desk: Desk) -> Outcome:
        """Hide the item, stop its clock and ask; a session that has not begun is left without a question."""
        if self.session.phase == "ready" and not self.session.answers:
            return Outcome("close", toast=say("drill.kept"))
        paused = rules.step(self.session, rules.Paused(at_s))
        effects = () if paused is self.session else (self._note("pause", desk),)
        return Outcome(screen=replace(self, session=paused, leaving=True), effects=effects, focus="later")

    def _leaving(self, message: Message, desk: Desk) -> Outcome:
        match message:
            case Pressed("stay") | Back():
                return Outcome(screen=replace(self, leaving=False, closes=False), focus="resume")
            case Pressed("later") if self.closes:
                return Outcome("quit")
            case Pressed("later"):
                left = (*self._unsaved_again(), *guarded.left(self.sitting, self._note("left", desk)))
                return Outcome("close", toast=say("drill.kept"), effects=left)
            case Pressed("close-now", at_s):
                from trainer.desktop.screens.result import Result

                result = Result(
                    self.sitting.session_id, again=None if self.sitting.ticket else self.sitting.plan
                )
                ended = guarded.ended(self.sitting, desk.utc(at_s), "left")
                return Outcome("replace", result, effects=(*self._unsaved_again(), *ended))
            case Arrived("saveanswer", number):
                return replace(self._saved(int(str(number)), desk), focus="")
            case Refused("saveanswer", reason):
                return Outcome(screen=replace(self, refused=reason))
        return Outcome()

    def _unsaved_again(self) -> tuple[Effect, ...]:
        if not self.refused:
            return ()
        return tuple(SaveAnswer(self.sitting.session_id, answer) for answer in self.unsaved)
