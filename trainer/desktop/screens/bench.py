"""The bench check: zero observations guided, every estimate locked before its reference may be entered.

The rules are trainer.practice.bench's. The times of the keys tell what a display typed from what fingers did.
"""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import results
from trainer.desktop.benches import BeginBench, KeepBench, OpenBench, ScoreBench
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Button, Choice, Field, Gap, Label, Stack, Stepper
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, fact, framed, panel, titled
from trainer.desktop.screens.strip import first_upper
from trainer.desktop.sittings import EndSession, Note
from trainer.desktop.words import counted, say
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import said
from trainer.instrument.typed import number
from trainer.practice import bench as rules


@dataclass(frozen=True, slots=True)
class BenchSetup(Plain):
    """What is compared with what; texts as typed."""

    instrument: str
    kind: rules.ReferenceKind = "display"
    step: str = ""
    accuracy: str = "0"
    readings: int = 20
    reason: str = ""
    waiting: rules.BenchCheck | None = None

    def first_focus(self, desk: Desk) -> str:
        """Begin with the step, which has no default."""
        return "step"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        unit = catalogue.load(self.instrument).unit
        kinds = (("display", say("bench.display")), ("vernier", say("bench.vernier")))
        form = panel(
            Label(say("bench.what"), tone="soft"),
            Choice("kind", say("bench.reference"), kinds, self.kind),
            Field("step", say("bench.step"), self.step, unit, self.reason, longest=20, width=320),
            Field("accuracy", say("bench.accuracy"), self.accuracy, unit, longest=20, width=320),
            Stepper("readings", say("bench.readings"), self.readings, 5, 5, 200),
            buttons(Button("begin", say("bench.begin"), "main", "run"), Button("cancel", say("cancel"))),
            gap=12,
        )
        return framed("plans", Stack((head(self.instrument, desk), form), gap=14))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("kind", "display" | "vernier" as kind):
                return Outcome(screen=replace(self, kind=kind, reason=""))
            case Edited("step" | "accuracy" as name, value):
                changed: dict[str, Any] = {name: str(value), "reason": ""}
                return Outcome(screen=replace(self, **changed))
            case Edited("readings", value):
                return Outcome(screen=replace(self, readings=int(float(str(value)))))
            case Pressed("begin") | Entered("step" | "accuracy"):
                return self._begin(desk)
            case Arrived("beginbench", session_id) if self.waiting is not None:
                return Outcome("replace", BenchScreen(session_id, self.waiting))
            case Refused("beginbench", reason):
                return Outcome(screen=replace(self, reason=reason, waiting=None), focus="step")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()

    def _begin(self, desk: Desk) -> Outcome:
        try:
            reference = rules.Reference(self.kind, number(self.step), number(self.accuracy))
            check = rules.start(self.instrument, reference, self.readings, desk.now_s)
        except Refusal as fault:
            return Outcome(screen=replace(self, reason=desk.sentence(said(fault))), focus="step")
        header = {
            "station": desk.station,
            "program_version": desk.program_version,
            "started_at": desk.utc(desk.now_s),
        }
        begun = BeginBench(desk.person, check, header)
        return Outcome(screen=replace(self, waiting=check), effects=(begun,))


@dataclass(frozen=True, slots=True)
class BenchScreen(Plain):
    """A bench check under way. `keys_s` are the times of the keys of the text; `unkept` is not safe yet."""

    session_id: Any
    check: rules.BenchCheck
    text: str = ""
    keys_s: tuple[float, ...] = ()
    unkept: tuple[KeepBench, ...] = ()
    refused: str = ""
    result: Any = None
    guarded = True

    @property
    def over(self) -> bool:
        """Whether nothing more is asked."""
        return self.check.phase in ("done", "left")

    def first_focus(self, desk: Desk) -> str:
        """Begin where something is typed."""
        return "close" if self.over else "retry" if self.refused else "entry"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        if self.refused:
            told = caution(say("bench.refused", reason=self.refused))
            matter: Any = panel(told, buttons(Button("retry", say("retry"), "main")))
        elif self.over:
            matter = self._result(desk)
        else:
            matter = self._asking(desk)
        return framed("plans", Stack((head(self.check.instrument, desk), matter), gap=14))

    def _asking(self, desk: Desk) -> Stack:
        check, place = self.check, {"n": len(self.check.pairs) + 1, "of": self.check.wanted}
        reference = say(f"bench.{check.reference.kind}").lower()
        more = None
        if check.phase == "zero":
            asked = say("bench.zero", n=len(check.zeros_tenths) + 1)
            how = say("bench.zero.how")
            more = Button("zero-set", say("bench.zero.done"), "plain", "check")
        elif check.phase == "estimate":
            asked, how = say("bench.estimate", **place), say("bench.estimate.how")
        else:
            asked, how = (
                say("bench.read", reference=reference, **place),
                say("bench.read.how", reference=reference),
            )
            more = Button("moved", say("bench.moved"))
        complaint = desk.sentence(check.complaint or "")
        entry = Field(
            "entry", asked, self.text, check.micrometer.unit, complaint, longest=40,
            style="large", width=420,
        )  # fmt: skip
        return panel(
            Label(how, tone="soft"),
            entry,
            buttons(
                Button("enter", say("bench.enter"), "main"), more, Button("end", say("bench.end"), "quiet")
            ),
            gap=12,
        )

    def _result(self, desk: Desk) -> Stack:
        result = self.result
        if result is None:
            close = buttons(Button("close", say("plans.title"), "main", "plans"))
            return panel(Label(say("wait" if self.check.pairs else "result.none"), tone="soft"), close)
        close = buttons(Button("close", say("plans.title"), "main", "plans"))
        return panel(*told_of(result, desk), Gap(2), close)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("entry", value, at_s):
                text = str(value)
                kept = self.keys_s[: max(0, len(text) - 1)] if len(text) > len(self.text) else self.keys_s
                times = (*kept, at_s) if len(text) > len(self.text) else kept[: len(text)]
                return Outcome(screen=replace(self, text=text, keys_s=times))
            case Entered("entry", at_s) | Pressed("enter", at_s):
                if self.check.phase == "zero" and not self.text.strip():
                    return self._stepped(rules.ZeroSet(at_s), desk)
                return self._stepped(self._entered(at_s, desk), desk)
            case Pressed("zero-set", at_s):
                return self._stepped(rules.ZeroSet(at_s), desk)
            case Pressed("moved", at_s):
                return self._stepped(rules.Withdrawn(at_s), desk)
            case Pressed("end", at_s):
                return self._stepped(rules.Left(at_s), desk)
            case Arrived("keepbench", kept):
                return Outcome(screen=replace(self, unkept=tuple(k for k in self.unkept if k is not kept)))
            case Refused("keepbench" | "endsession" | "scorebench", reason) if not self.over or self.unkept:
                return Outcome(screen=replace(self, refused=reason), focus="retry")
            case Refused("endsession" | "scorebench", reason):
                return Outcome(toast=reason)
            case Pressed("retry"):
                again = replace(self, refused="")
                ending = again._ending(desk) if self.over else ()
                return Outcome(screen=again, effects=(*self.unkept, *ending), focus=again.first_focus(desk))
            case Arrived("scorebench", result):
                return Outcome(screen=replace(self, result=result), focus="close")
            case Pressed("close"):
                return Outcome("close")
            case Back() if self.over:
                return Outcome("close")
            case Back():
                return Outcome(toast=say("bench.stay"))
        return Outcome()

    def _entered(self, at_s: float, desk: Desk) -> rules.Entered:
        """Return the text with the time of its first key; a burst after slow keys is the display's."""
        began_s = self.keys_s[0] if self.keys_s else at_s
        tail = self.keys_s[-rules.SHORTEST_BURST :]
        if len(tail) == rules.SHORTEST_BURST and at_s - tail[0] < rules.DISPLAY_S_PER_KEY * len(tail):
            began_s = at_s
        return rules.Entered(self.text, began_s, at_s, desk.utc(at_s))

    def _stepped(self, event: rules.Event, desk: Desk) -> Outcome:
        if self.refused:
            return Outcome()
        after = rules.step(self.check, event)
        keep = KeepBench(self.session_id, self.check, after, desk.utc(desk.now_s))
        changed = replace(self, check=after, text="", keys_s=(), unkept=(*self.unkept, keep))
        ending = changed._ending(desk) if changed.over and not self.over else ()
        return Outcome(screen=changed, effects=(keep, *ending), focus=changed.first_focus(desk))

    def _ending(self, desk: Desk) -> tuple[Effect, ...]:
        how = "finished" if self.check.phase == "done" else "left"
        ended = EndSession(self.session_id, how, desk.utc(desk.now_s))
        return (ended, ScoreBench(self.session_id, self.check)) if self.check.pairs else (ended,)

    def ask_first(self, at_s: float, desk: Desk) -> Outcome | None:
        """Ask before the window closes on a check under way."""
        if self.over:
            return None
        from trainer.desktop.screens.bench_quit import BenchQuit

        return Outcome("open", BenchQuit(self.check.phase == "reference"))

    def closing(self, desk: Desk) -> tuple[Effect, ...]:
        """The window closes: what was read stays, and the check can be gone on with from Home."""
        if self.over:
            return ()
        return (*self.unkept, Note(self.session_id, "window-closed", desk.utc(desk.now_s)))

    @classmethod
    def of(cls, found: OpenBench, desk: Desk) -> "BenchScreen":
        """Return the screen of an unfinished bench check to go on with."""
        check, lost = found.going_on(desk.now_s, desk.utc(desk.now_s))
        return cls(found.session_id, check, unkept=lost)

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have kept what is not kept yet."""
        return self.unkept


def told_of(result: Any, desk: Desk) -> list[Any]:
    """Return what a bench check found: bias and spread with intervals, the count, the cautions."""
    parts: list[Any] = []
    for name, value in (("bench.bias", result.bias_tenths), ("bench.spread", result.spread_tenths)):
        signed = name == "bench.bias"
        size = f"{desk.tenths(value.value, signed)} {say('result.unit')}"
        parts.append(fact(say(name), say("bench.few") if value.value is None else size))
        if value.low is not None:
            low, high = desk.tenths(value.low, signed), desk.tenths(value.high, signed)
            parts.append(Label(say("bench.interval", low=low, high=high), "small", "soft"))
    count = counted("count.readings", result.readings)
    parts.append(Label(say("bench.count", n=count, misreads=result.misreads)))
    sentences = (*result.cautions, say("bench.procedures"))
    return [*parts, *(caution(first_upper(desk.sentence(text))) for text in sentences)]


def head(instrument: str, desk: Desk) -> Stack:
    """Return the head of both screens."""
    person = desk.person.name if desk.person is not None else ""
    under = say("bench.under", person=person, instrument=desk.sentence(results.instrument_title(instrument)))
    return titled(say("bench.title"), under)
