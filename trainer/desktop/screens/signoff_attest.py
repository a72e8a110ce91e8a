"""The end of a check: the person says whether they took it themselves, and its record is kept."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Message, Pressed
from trainer.desktop.nodes import Button, Gap, Label, Stack
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, framed, panel, titled
from trainer.desktop.signing_work import CloseCheck
from trainer.desktop.words import say
from trainer.signoff.guard import PERSON_ATTESTS


@dataclass(frozen=True, slots=True)
class Attest(Plain):
    """The screen after the last reading; left only by an answer. `record` is None until it is kept."""

    session_id: Any
    asked: bool | None = None  # what was answered
    record: tuple[str, ...] | None = None
    refused: str = ""
    warned: bool = False  # of closing the window

    @property
    def guarded(self) -> bool:  # type: ignore[override]
        """Left only by an answer; afterwards like any screen."""
        return self.record is None

    def first_focus(self, desk: Desk) -> str:
        """Begin with the sentence's answer, afterwards with the result."""
        if self.record is not None:
            return "result"
        return "retry" if self.refused else "yes"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        name = desk.person.name if desk.person is not None else ""
        head = titled(say("attest.title"), name)
        if self.record is not None:
            return framed("signoff", Stack((head, self._kept()), gap=14))
        waiting = self.asked is not None and not self.refused
        answers = buttons(
            Button("yes", say("attest.yes"), "main", "check", enabled=not waiting),
            Button("no", say("attest.no"), "plain", enabled=not waiting),
        )
        if self.refused:
            answers = buttons(Button("retry", say("retry"), "main"))
        body = panel(
            Label(f"“{PERSON_ATTESTS}”", "heading"),
            Label(say("attest.ask"), tone="soft"),
            caution(say("attest.refused", reason=self.refused)) if self.refused else None,
            Gap(2),
            answers,
        )
        return framed("signoff", Stack((head, body), gap=14))

    def _kept(self) -> Stack:
        record = self.record or ()
        said = [Label(say("attest.record", what=one), tone="soft") for one in record]
        if not said:
            said = [Label(say("attest.record.none"), tone="soft")]
        return panel(
            Label(say("attest.kept"), "heading"),
            *said,
            Gap(2),
            buttons(
                Button("result", say("attest.result"), "main", "progress"),
                Button("room", say("attest.room"), "plain", "signoff"),
            ),
        )

    def ask_first(self, at_s: float, desk: Desk) -> Outcome | None:
        """Say once what closing before an answer means: a check that nobody attested."""
        if self.asked is not None or self.warned:
            return None
        return Outcome(screen=replace(self, warned=True), toast=say("drill.quit.attest"))

    def closing(self, desk: Desk) -> tuple[Effect, ...]:
        """The window closes: the record is kept with the answer, or without one."""
        if self.record is not None:
            return ()
        return (CloseCheck(self.session_id, "finished", bool(self.asked)),)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Pressed("yes" | "no" as key) if self.asked is None:
                return self._close(key == "yes")
            case Pressed("retry") if self.refused and self.asked is not None:
                return self._close(self.asked)
            case Arrived("closecheck", (session_id, _, tuple(record))) if session_id == self.session_id:
                return Outcome(screen=replace(self, record=record, refused=""), focus="result")
            case Refused("closecheck", reason):
                return Outcome(screen=replace(self, refused=reason), focus="retry")
            case Pressed("result") if self.record is not None:
                from trainer.desktop.screens.result import Result

                return Outcome("replace", Result(self.session_id))
            case Pressed("room") if self.record is not None:
                from trainer.desktop.screens.signoff import Signoff

                return Outcome("switch", Signoff())
            case Back() if self.record is not None:
                return Outcome("switch")
        return Outcome()

    def _close(self, attested: bool) -> Outcome:
        asked = replace(self, asked=attested, refused="")
        return Outcome(screen=asked, effects=(CloseCheck(self.session_id, "finished", attested),))
