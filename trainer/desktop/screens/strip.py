"""What a drill shows: the picture or what stands in its place, and the answer strip."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Button, Field, Gap, Icon, Label, Picture, Progress, Row, Stack
from trainer.desktop.pictures import strip_units
from trainer.desktop.screens.feedback import feedback, narrow
from trainer.desktop.screens.parts import buttons, caution
from trainer.desktop.sittings import warnings_of
from trainer.desktop.words import counted, say, spoken
from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer
from trainer.practice.asking import asked
from trainer.practice.kinds import KINDS
from trainer.practice.session import Session

if TYPE_CHECKING:
    from trainer.desktop.screens.drill import Drill

DIGITS = "0123456789"


def body(drill: "Drill", desk: Desk) -> Any:
    """Return what fills the window above the strip."""
    session = drill.session
    if drill.leaving:
        return _centred(_leave(drill))
    if drill.refused:
        return _centred(_refused(drill))
    if session.phase == "ready":
        return _centred(_ready(drill, desk))
    if session.phase == "paused":
        return _centred(_paused())
    if drill.unsaved and session.phase == "reading":
        return _centred((Label(say("drill.saving"), tone="soft", align="centre"),))
    if session.phase == "dealing":
        return _centred((Label(say("wait"), tone="soft", align="centre"),))
    shot = drill.shot(desk.now_s)
    notes = tuple(desk.sentence(note) for note in shot.notes)
    shot = replace(shot, decimal=desk.settings.decimal, notes=notes)
    if session.turning is None:
        return Picture("", shot, grow=True)
    px = shot.px_per_mm or 20.0
    micrometer = session.micrometer
    per_px = micrometer.direction * 10 / (px * micrometer.division_arc_mm)
    return Picture("thimble", shot, grow=True, tenths_per_px=per_px)


def _centred(children: tuple[Any, ...]) -> Stack:
    sheet = Stack(children, gap=8, pad=(28, 22), ground="sheet")
    return Stack(
        (Gap(8, grow=True), Row((Gap(16), sheet, Gap(16)), (0.5, 2, 0.5)), Gap(8, grow=True)), grow=True
    )


def _ready(drill: "Drill", desk: Desk) -> tuple[Any, ...]:
    plan, session = drill.session.plan, drill.session
    lines = [say("drill.ready.line", n=counted("count.items", plan.items), what=asks(plan))]
    if plan.serial:
        lines = [f"{asks(plan)[:1].upper()}{asks(plan)[1:]}."]
    if session.answers:
        lines = [say("drill.ready.again", done=_done(session))]
    lines.append(say("drill.ready.feedback" if plan.feedback else "drill.ready.check"))
    warned = warnings_of(plan, drill.sitting.viewing, drill.sitting.px_per_mm)
    if plan.seconds_each is not None:
        lines.append(say("drill.ready.limit", s=desk.number(f"{plan.seconds_each:g}")))
    return (
        Label(desk.sentence(plan.title), "title"),
        Label(desk.sentence(plan.note), tone="soft") if plan.note else Gap(0),
        *(Label(line) for line in lines),
        *(caution(first_upper(desk.sentence(line))) for line in warned),
        Gap(2),
        Label(say("drill.ready.keys"), "small", "soft"),
        Gap(6),
        buttons(
            Button("begin", say("drill.ready.go"), "main", "run"),
            Button("leave", say("drill.leave"), icon="leave"),
        ),
    )


def _done(session: Session) -> str:
    """Return how many answers there are, and of how many where that does not hang on the answers."""
    done, of = len(session.answers), session.total
    return str(done) if of is None else say("drill.of", n=done, of=of)


def first_upper(text: str) -> str:
    """Return a warning as a sentence of its own.

    >>> first_upper("a division is small")
    'A division is small.'
    """
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def asks(plan: Any) -> str:
    """Return what a plan asks for, in words."""
    if plan.drill not in ("tenths", "full-reading"):
        return spoken(KINDS[plan.drill].summary)
    return say("plans.asks.halves" if plan.drill == "tenths" and plan.halves else f"plans.asks.{plan.drill}")


def _paused() -> tuple[Any, ...]:
    return (
        Label(say("drill.paused.title"), "title"),
        Label(say("drill.paused.line")),
        Label(say("caution.eyes"), tone="soft"),
        Gap(6),
        buttons(
            Button("resume", say("drill.resume"), "main", "run"),
            Button("leave", say("drill.leave"), icon="leave"),
        ),
    )


def _refused(drill: "Drill") -> tuple[Any, ...]:
    what = "refused" if drill.unsaved else "undealt"
    return (
        Label(say(f"drill.{what}.title"), "title"),
        caution(say("drill.refused.line", reason=drill.refused)),
        Label(say(f"drill.{what}.note")),
        Gap(6),
        buttons(Button("retry", say("retry"), "main"), Button("leave", say("drill.leave"), icon="leave")),
    )


def _leave(drill: "Drill") -> tuple[Any, ...]:
    kept = replace(drill.session, answers=drill.session.answers[: -len(drill.unsaved) or None])
    title, line, later = ("drill.quit.title", "drill.quit.line", "drill.quit")
    if not drill.closes:
        title, line, later = ("drill.leave.title", "drill.leave.line", "drill.leave.later")
    waiting = len(drill.unsaved)
    return (
        Label(say(title), "title"),
        Label(say(line, done=_done(kept))),
        *((caution(counted("drill.leave.unsaved", waiting)),) if drill.refused and waiting else ()),
        Gap(6),
        buttons(
            Button("later", say(later), "main"),
            None if drill.closes else Button("close-now", say("drill.leave.close")),
            Button("stay", say("drill.leave.stay"), "quiet"),
        ),
    )


def strip(drill: "Drill", desk: Desk) -> Stack:
    """Return the answer strip."""
    session = drill.session
    count = session.total or len(session.items)
    number = session.item.number if session.item is not None else len(session.answers)
    left_s = session.remaining_s(desk.now_s) if session.phase == "reading" else None
    place = say("drill.of", n=number, of=count) if session.total else say("drill.number", n=number)
    if left_s is not None:
        place += "\N{NO-BREAK SPACE}\N{MIDDLE DOT} " + say("drill.left_s", s=f"{left_s:.0f}")
    progress: Any = Progress(len(session.answers), count, 12)
    if session.complaint and session.phase == "reading":
        sign, text = (
            Icon("caution", 16, "brass"),
            Label(desk.sentence(session.complaint), "small", "brass", wrap=False),
        )
        progress = Row((sign, text), (0, 1), gap=8, align="middle")
    elif (
        session.phase == "reading"
        and drill.shows_item
        and session.kind.name not in ("tenths", "full-reading")
    ):
        question_now = asked(session)
        if question_now is not None:
            progress = Label(desk.sentence(question_now.question), "strong", wrap=False)
    head = Row((Label(place, "small", "soft", wrap=False), progress), (0, 1), gap=14, align="middle")
    rows: list[Any] = [head, _middle(drill, desk)]
    keypad = drill.keypad_shown(desk)
    if keypad and session.phase == "reading" and drill.shows_item and not drill.leaving:
        rows.append(_keys(drill, desk))
    # one height whatever the strip holds, so that the picture above never moves
    return Stack(tuple(rows), gap=8, pad=(20, 10), ground="strip", height=strip_units(keypad))


def _middle(drill: "Drill", desk: Desk) -> Any:
    session = drill.session
    micrometer = catalogue.load(session.plan.instrument)
    if session.phase == "feedback" and not drill.leaving and not drill.refused:
        return feedback(drill, micrometer, desk)
    if session.phase != "reading" or not drill.shows_item or drill.leaving:
        return Gap(1)
    if session.kind.unit == "words" or session.turning is not None:
        return _without_field(drill, desk)
    ask, unit = question(drill, micrometer, narrow(desk))
    slim = narrow(desk)
    wide = 170 if slim else 230
    field = Field("answer", "", session.typed, unit, style="figure", longest=40, width=wide, compact=True)
    skip, pause = ("", "") if slim else (say("drill.skip"), say("drill.pause"))
    shown = drill.keypad_shown(desk)
    return Row(
        (
            Label(ask, "heading", wrap=False),
            field,
            Button("enter", say("drill.enter"), "main"),
            Gap(1),
            Button("skip", skip, icon="skip", tip=say("tip.key", what=say("drill.skip"), key="F2")),
            Button("pause", pause, icon="pause", tip=say("tip.key", what=say("drill.pause"), key="F3")),
            Button("keypad", "", "quiet", "keys", tip=say("drill.keys"), chosen=shown),
            Button(
                "leave", "", "quiet", "leave", tip=say("tip.key", what=say("drill.leave"), key=say("key.esc"))
            ),
        ),
        (0, 0, 0, 1, 0, 0, 0, 0),
        gap=10,
        align="middle",
    )


def _without_field(drill: "Drill", desk: Desk) -> Row:
    """Return the strip's controls where the answer is a word, or where the thimble stands."""
    session = drill.session
    if session.turning is not None:
        first: tuple[Any, ...] = (
            Label(say("drill.turn"), "small", "soft", wrap=False),
            Button("enter", say("drill.enter"), "main"),
        )
    else:
        first = tuple(Button(f"word:{word}", say(f"drill.word.{word}")) for word in drill.words())
    others = (
        Button("skip", "", icon="skip", tip=say("tip.key", what=say("drill.skip"), key="F2")),
        Button("pause", "", icon="pause", tip=say("tip.key", what=say("drill.pause"), key="F3")),
        Button(
            "leave", "", "quiet", "leave", tip=say("tip.key", what=say("drill.leave"), key=say("key.esc"))
        ),
    )
    shares = (*(0.0 for _ in first), 1.0, *(0.0 for _ in others))
    return Row((*first, Gap(1), *others), shares, gap=10, align="middle")


def question(drill: "Drill", micrometer: Micrometer, short: bool = False) -> tuple[str, str]:
    """Return what the strip asks and the unit of the answer."""
    session = drill.session
    if session.plan.drill == "tenths":
        item = session.item
        line = ""
        if item is not None and drill.shows_item:
            line_tenths = float(item.extra.get("line_tenths", 0.0))
            line = str(round(line_tenths / 10) % micrometer.divisions)
        ask = "drill.ask.tenths.short" if short else "drill.ask.tenths"
        return say(ask, line=line or "\N{HORIZONTAL ELLIPSIS}"), say("drill.unit.tenths")
    if session.plan.drill == "full-reading":
        return say("drill.ask.full-reading"), micrometer.unit
    unit = session.kind.unit_of(micrometer)
    words = {"tenth": "drill.unit.tenths", "line": "drill.unit.line"}
    return say("drill.ask.other"), say(words[unit]) if unit in words else unit


def _keys(drill: "Drill", desk: Desk) -> Row:
    keys = [Button(f"digit:{d}", d, "keycap", width=44) for d in DIGITS]
    if drill.session.plan.drill == "tenths":
        keys.append(Button("digit:10", "10", "keycap", width=44))
    if drill.session.plan.drill != "tenths" or drill.session.plan.halves:
        keys.append(Button("digit:.", desk.settings.decimal, "keycap", width=44))
    keys.append(Button("digit:erase", "", "keycap", "erase", width=44))
    return Row((*keys, Gap(0)), (*(0.0 for _ in keys), 1.0), gap=6)
