"""What of an item is before the eye: its picture, and how large the window lets it be."""

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.desktop.desk import Desk
from trainer.desktop.pictures import Shot, drill_size, fitting_px_per_mm, frozen
from trainer.desktop.screen import Effect, Outcome
from trainer.desktop.screens.answering import MAGNIFIED
from trainer.desktop.sittings import Note, warnings_of
from trainer.desktop.words import say
from trainer.drawing.viewing import Viewing
from trainer.instrument import catalogue
from trainer.practice.asking import sight
from trainer.practice.conditions import SCREEN, shrunk
from trainer.practice.items import Answer

if TYPE_CHECKING:
    from trainer.desktop.screens.drill import Drill


def shot(drill: "Drill", now_s: float) -> Shot:
    """Return the picture as it is to be seen now; hidden while no item may be seen."""
    plan, session = drill.sitting.plan, drill.session
    seen = sight(session)
    if seen is None or not (drill.shows_item and session.in_view(now_s)):
        return Shot(plan.instrument, 0.0, hidden=True)
    px_per_mm = float(drill.sitting.viewing.get("px_per_mm") or 20.0)
    kept = {name: value for name, value in drill.sitting.viewing.items() if name != SCREEN}
    viewing = seen.viewing(Viewing.from_dict({**kept, "px_per_mm": px_per_mm}))
    told = session.phase == "feedback"
    return Shot(
        plan.instrument,
        seen.position_tenths,
        float(drill.sitting.viewing.get("px_per_mm") or 0.0),
        frozen(viewing.to_dict()),
        faults=seen.faults,
        without_vernier=seen.micrometer.vernier is None,
        notes=drill.notes() if told else (),
        feedback=told and session.kind.name in MAGNIFIED,
        answer_tenths=session.answers[-1].answer_tenths if told else None,
    )


def least_px(drill: "Drill", desk: Desk) -> float | None:
    """Return the smallest scale, in pixels a millimetre, at which the present item was seen so far."""
    begun_px = drill.sitting.px_per_mm
    if not begun_px:
        return None
    size = drill_size(desk.size, desk.drawn_scale, drill.keypad_shown(desk))
    fits = fitting_px_per_mm(catalogue.load(drill.sitting.plan.instrument), size)
    return min(begun_px, fits, drill.least_px or begun_px)


def resized(drill: "Drill", desk: Desk) -> Outcome:
    """Remember how small the picture became while an item is read, and say so once when it begins to."""
    if drill.session.phase != "reading":
        return Outcome()
    begun_px, now_px = drill.sitting.px_per_mm, least_px(drill, desk)
    if not begun_px or not now_px:
        return Outcome()
    anew = shrunk(now_px, begun_px) and not shrunk(drill.least_px or begun_px, begun_px)
    return Outcome(screen=replace(drill, least_px=now_px), toast=say("drill.smaller") if anew else "")


def warned(drill: "Drill", answer: Answer, desk: Desk) -> tuple[Effect, ...]:
    """Return the work of keeping that an answer was read from a smaller picture than the sitting tells of."""
    begun_px, seen_px = drill.sitting.px_per_mm, least_px(drill, desk)
    if not begun_px or not seen_px or not shrunk(seen_px, begun_px):
        return ()
    sitting = drill.sitting
    known = warnings_of(sitting.plan, sitting.viewing, begun_px)
    more = [one for one in warnings_of(sitting.plan, sitting.viewing, seen_px) if one not in known]
    at = desk.utc(desk.now_s)
    return tuple(
        Note(sitting.session_id, "warning", at, f"item {answer.number}: {told}")
        for told in (shrunk(seen_px, begun_px), *more)
    )
