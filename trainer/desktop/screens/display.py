"""Display set-up: match a card or a known length, say how far the eyes are, see what that gives."""

import math
from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import look
from trainer.desktop.desk import Desk
from trainer.desktop.events import OnDisplay
from trainer.desktop.messages import Back, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Button, Choice, Field, Gap, Label, Row, Ruler, Stack
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.alignment import Alignment
from trainer.desktop.screens.parts import buttons, caution, fact, framed, panel, titled
from trainer.desktop.screens.seen import arc_minutes
from trainer.desktop.settings import CARD_MM, USUAL_PX_PER_MM, Display
from trainer.desktop.words import say
from trainer.instrument import catalogue, typed

SHOWN = ("metric", "inch")
LENGTH_MM = (20.0, 300.0)
DISTANCE_MM = (150.0, 2000.0)
HONEST_TENTH_PX = 0.5  # a tenth below half a pixel is not judged by the eye but by the screen's raster
CHECK_MM = 50.0
SHARES, GAP = (1.25, 1.0), 16  # of the two columns
BESIDE = 820  # units of width from which the columns stand beside each other
ALWAYS = look.READABLE + 1  # folds at every width
AROUND = 64  # units that panel and end marks take of a bar's width


@dataclass(frozen=True, slots=True)
class DisplaySetup(Plain):
    """The set-up under way. `px_per_mm` None: as the display was set up, or the usual value."""

    by: str = "card"
    px_per_mm: float | None = None
    length: str = "100"
    distance: str | None = None

    def first_focus(self, desk: Desk) -> str:
        """Begin with the outline, so that the arrow keys work at once."""
        return "ruler"

    def scale(self, desk: Desk) -> float:
        """Return the pixels a millimetre as the figure stands now."""
        if self.px_per_mm is not None:
            return self.px_per_mm
        kept = desk.settings.displays.get(desk.display_name)
        return kept.px_per_mm if kept else USUAL_PX_PER_MM * desk.auto_scale

    def known_mm(self) -> float | None:
        """Return the length that the figure shows, None when it is not a usable one."""
        if self.by == "card":
            return CARD_MM[0]
        return _within(self.length, LENGTH_MM)

    def distance_text(self, desk: Desk) -> str:
        """Return the distance as typed, or as kept."""
        if self.distance is not None:
            return self.distance
        kept = desk.settings.displays.get(desk.display_name)
        return desk.number(f"{kept.distance_mm:g}") if kept and kept.distance_mm else ""

    def _fits(self, desk: Desk) -> bool:
        """Return whether the whole length can be seen: what is cut off cannot be matched."""
        known = self.known_mm()
        return known is not None and self.scale(desk) * known / desk.drawn_scale <= _room_units(desk)[0]

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        choice = Choice(
            "by",
            say("display.by"),
            (("card", say("display.by.card")), ("length", say("display.by.length"))),
            self.by,
        )
        px, known = self.scale(desk), self.known_mm()
        width = px * (known or 100.0)
        high = px * CARD_MM[1] if self.by == "card" else 0.0
        length = Field(
            "length", say("display.length"), self.length, "mm", longest=12, width=220,
            reason="" if known is not None else say("display.length.bad"),
        )  # fmt: skip
        steps = buttons(
            Button("less", say("display.less"), "plain"), Button("more", say("display.more"), "plain")
        )
        beside = width / desk.drawn_scale <= _room_units(desk)[1]
        left = panel(
            choice,
            Label(desk.sentence(say(f"display.{self.by}.how"))),
            *((length,) if self.by == "length" else ()),
            Ruler("ruler", width, high),
            None if known is None or self._fits(desk) else caution(say("display.too-long")),
            steps,
            Label(say("display.keys"), "small", "soft"),
            gap=10,
        )
        text = self.distance_text(desk)
        bad = bool(text.strip()) and _within(text, DISTANCE_MM) is None
        distance = Field(
            "distance", say("display.distance"), text, "mm", say("display.distance.bad") if bad else "",
            say("display.distance.hint"), longest=12, width=320,
        )  # fmt: skip
        kept = desk.settings.displays.get(desk.display_name)
        save = buttons(
            Button("save", say("display.save"), "main", "check", enabled=self._fits(desk) and not bad),
            Button("align", say("display.align"), "plain", enabled=kept is not None),
        )
        right = Stack((panel(distance), gives(px, _within(text, DISTANCE_MM), desk), save), gap=12)
        parts = [titled(say("display.title"), say("display.under")), _state(desk)]
        parts.append(Row((left, right), SHARES, gap=GAP, fold=BESIDE if beside else ALWAYS))
        return framed("display", Stack(tuple(parts), gap=12))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("by", value):
                return Outcome(screen=replace(self, by=str(value)))
            case Edited("length", value):
                return Outcome(screen=replace(self, length=str(value), px_per_mm=self.scale(desk)))
            case Edited("distance", value):
                return Outcome(screen=replace(self, distance=str(value)))
            case Edited("ruler", value):
                return self._moved(float(str(value)))
            case Pressed("less" | "more" as key):
                known = self.known_mm() or 100.0
                return self._moved(self.scale(desk) * known + (1.0 if key == "more" else -1.0))
            case OnDisplay():  # what was matched on another display does not hold here
                return Outcome(screen=replace(self, px_per_mm=None, distance=None))
            case Pressed("align"):
                return Outcome("open", Alignment())
            case Pressed("save") | Entered("distance") | Entered("length"):
                return self._kept(desk)
            case Back():
                return Outcome("switch")
        return Outcome()

    def _moved(self, width_px: float) -> Outcome:
        known = self.known_mm() or 100.0
        return Outcome(screen=replace(self, px_per_mm=max(1.0, min(100.0, width_px / known))))

    def _kept(self, desk: Desk) -> Outcome:
        text = self.distance_text(desk)
        far = _within(text, DISTANCE_MM)
        if not self._fits(desk) or (text.strip() and far is None):
            return Outcome()
        display = Display(round(self.scale(desk), 5), far, desk.utc(desk.now_s), desk.resolution)
        displays = {**desk.settings.displays, desk.display_name: display}
        return Outcome(
            screen=replace(self, px_per_mm=None, distance=None),
            desk={"settings": replace(desk.settings, displays=displays)},
            toast=say("display.saved"),
        )


def _room_units(desk: Desk) -> tuple[float, float]:
    """Return how long a bar has room: across the whole page, and in the left of two columns."""
    window = desk.size[0] / desk.drawn_scale
    rail, side = (look.RAIL_NARROW, 16) if window < look.NARROW_BELOW else (look.RAIL, 32)
    page = min(window - rail - 2 * side, look.READABLE)
    column = (page - GAP) * SHARES[0] / sum(SHARES) if page >= BESIDE else page
    return page - AROUND, column - AROUND


def _within(text: str, limits: tuple[float, float]) -> float | None:
    """Return a typed number if it is one between two limits."""
    try:
        value = float(typed.number(text))
    except typed.UnreadableAnswer:
        return None
    return value if limits[0] <= value <= limits[1] else None


def _state(desk: Desk) -> Any:
    kept = desk.settings.displays.get(desk.display_name)
    if kept is None:
        return caution(say("display.never"))
    if desk.display is None:
        return caution(say("display.changed"))
    text = say("display.which", name=desk.display_name) + ". "
    text += say("display.kept", when=kept.set_at[:10], px=desk.number(f"{kept.px_per_mm:.3f}"))
    if kept.alignment is not None:
        text += " " + say("display.aligned", n=kept.alignment[0], of=kept.alignment[1])
    return Label(text, tone="soft")


def gives(px_per_mm: float, distance_mm: float | None, desk: Desk) -> Stack:
    """Return what a scale and a distance give: pixels and visual angle of a division and a tenth."""
    rows: list[Any] = [
        Label(say("display.gives"), "heading"),
        fact(say("display.px"), desk.number(f"{px_per_mm:.3f}")),
    ]
    worst = math.inf
    for name in SHOWN:
        micrometer = catalogue.load(name)
        division_mm = micrometer.division_arc_mm
        rows.append(
            fact(
                say("display.division", title=desk.sentence(micrometer.title)),
                _size(division_mm, px_per_mm, distance_mm, desk),
                "body",
            )
        )
        rows.append(fact(say("display.tenth"), _size(division_mm / 10, px_per_mm, distance_mm, desk), "body"))
        worst = min(worst, division_mm / 10 * px_per_mm)
    if worst >= HONEST_TENTH_PX:
        rows.append(Label(say("display.honest.yes"), "small", "soft"))
    else:
        times = math.ceil(HONEST_TENTH_PX / worst * 2) / 2
        rows.append(
            Label(
                say("display.honest.no", px=desk.number(f"{worst:.2f}"), times=desk.number(f"{times:g}")),
                "small",
                "soft",
            )
        )
    check = Ruler("", px_per_mm * CHECK_MM)
    return panel(
        *rows,
        Gap(2),
        Label(say("display.check.line", mm=desk.number(f"{CHECK_MM:g}")), "small", "soft"),
        check,
        gap=6,
    )


def _size(mm: float, px_per_mm: float, distance_mm: float | None, desk: Desk) -> str:
    size, px = desk.number(f"{mm:.2f}"), desk.number(f"{mm * px_per_mm:.2f}")
    if distance_mm is None:
        return say("display.size", mm=size, px=px)
    angle = desk.number(f"{arc_minutes(mm, distance_mm):.2f}")
    return say("display.size.angle", mm=size, px=px, angle=angle)
