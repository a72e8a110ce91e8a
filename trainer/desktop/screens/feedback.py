"""What a drill tells of an answer in its strip: where it stood, what was read, the signed error."""

from typing import TYPE_CHECKING, Any

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Button, Gap, Icon, Label, Row, Stack
from trainer.desktop.words import say
from trainer.instrument.micrometer import Micrometer
from trainer.practice.telling import told

if TYPE_CHECKING:
    from trainer.desktop.screens.drill import Drill


ANSWERS = ("in", "out", "accept", "reject")


def narrow(desk: Desk) -> bool:
    """Return whether the window is too narrow for words on every button."""
    return desk.size[0] < 860 * desk.drawn_scale


def feedback(drill: "Drill", micrometer: Micrometer, desk: Desk) -> Any:
    from trainer.desktop.results import misread_of

    session = drill.session
    item, answer = session.item, session.answers[-1]
    assert item is not None  # in feedback there is the item just answered
    last = len(session.answers) == len(session.items) and not session.wants_item
    onward = Button(
        "next", say("drill.finish" if last else "drill.next"), "main", "run", enabled=not drill.unsaved
    )
    if session.kind.name not in ("tenths", "full-reading"):
        return _told(drill, onward, desk)
    truth = reading_text(micrometer, item.position_tenths, session.plan.drill, item.extra, desk, 1)
    if answer.answer_tenths is None:
        told: Any = Label(say(f"drill.{answer.outcome}", truth=truth), "heading", wrap=False)
    else:
        error = answer.answer_tenths - item.position_tenths
        given = reading_text(micrometer, answer.answer_tenths, session.plan.drill, item.extra, desk, 0)
        kind = misread_of(item.position_tenths, answer.answer_tenths, micrometer.name)
        verdict = error_text(error, micrometer, desk, narrow(desk))
        if kind:
            verdict = say("drill.misread", kind=say(f"misread.{kind}"))
        told = Row(
            (
                _said(say("drill.truth"), truth, "truth"),
                _said(say("drill.answer"), given, "answer"),
                _said(say("drill.error"), verdict, ""),
            ),
            (0, 0, 1),
            gap=14 if narrow(desk) else 28,
        )
    return Row(
        (
            told,
            onward,
            Button(
                "leave", "", "quiet", "leave", tip=say("tip.key", what=say("drill.leave"), key=say("key.esc"))
            ),
        ),
        (1, 0, 0),
        gap=10,
        align="middle",
    )


def _told(drill: "Drill", onward: Button, desk: Desk) -> Row:
    """Return the feedback on anything but a plain reading: truth, answer, right or not."""
    session = drill.session
    found = told(session)
    answer = session.answers[-1]
    typed = answer.typed or say(f"result.outcome.{answer.outcome}")
    parts: list[Any] = []
    if found is not None:
        parts.append(_said(say("drill.truth.other"), said_text(found.truth, desk), "truth"))
        parts.append(_said(say("drill.answer.other"), said_text(typed, desk), "answer"))
        if found.right is not None:
            parts.append(
                _said(say("drill.verdict"), say("drill.right" if found.right else "drill.wrong"), "")
            )
    leave = Button(
        "leave", "", "quiet", "leave", tip=say("tip.key", what=say("drill.leave"), key=say("key.esc"))
    )
    return Row(
        (*parts, Gap(1), onward, leave), (*(0.0 for _ in parts), 1.0, 0.0, 0.0), gap=20, align="middle"
    )


def _said(label: str, value: str, mark: str) -> Any:
    told = Stack((Label(label, "small", "soft", wrap=False), Label(value, "heading", wrap=False)), gap=1)
    return Row((Icon(mark, 18, "ink"), told), (0, 0), gap=8, align="middle") if mark else told


def said_text(text: str, desk: Desk) -> str:
    """Return a truth or an answer as it is shown: a word of the catalogue, or a number with its mark."""
    return say(f"answer.{text}") if text in ANSWERS else desk.sentence(text)


def reading_text(
    micrometer: Micrometer, position_tenths: float, drill: str, extra: Any, desk: Desk, more: int
) -> str:
    """Return a position as the drill asks for it, with `more` decimals than a tenth."""
    if drill == "tenths":
        tenths = position_tenths - float(extra.get("line_tenths", 0.0))
        return desk.number(f"{tenths:.{more}f}" if more or tenths == int(tenths) else f"{tenths:g}") + (
            f"\N{NO-BREAK SPACE}{say('drill.unit.tenths')}"
        )
    text = micrometer.format_reading(position_tenths, micrometer.decimals + more)
    return desk.number(text) + f"\N{NO-BREAK SPACE}{micrometer.unit}"


def error_text(error_tenths: float, micrometer: Micrometer, desk: Desk, short: bool = False) -> str:
    """Return a signed error in tenths and in length; `short` leaves the words out."""
    if short:
        length = desk.tenths(error_tenths * micrometer.tenth_um, decimals=1)
        return f"{desk.tenths(error_tenths, decimals=1)} ({length}\N{NO-BREAK SPACE}\N{MICRO SIGN}m)"
    size = abs(error_tenths)
    if size < 0.05:
        return say("drill.error.none", tenths=desk.number("0.05"))
    way = "high" if error_tenths > 0 else "low"
    um = size * micrometer.tenth_um
    return say(f"drill.error.{way}", tenths=desk.number(f"{size:.1f}"), um=desk.number(f"{um:.1f}"))
