"""Drawing a page: every placed node by its own small function, onto one surface."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import pygame
from pygame import Rect

from trainer.desktop import look, nodes, shapes
from trainer.desktop.layout import Layout, Placed
from trainer.desktop.look import Colour, Ground
from trainer.desktop.measure import Measure
from trainer.desktop.ui import Ui


class Gallery(Protocol):
    """Where pictures of instruments come from."""

    def surface(self, spec: Any, size: tuple[int, int]) -> pygame.Surface | None:
        """Return the picture, or None while it is being made."""

    def begin(self, keep: bool) -> None:
        """A new frame is drawn over the last one; without `keep` nothing of that stands any more."""

    def forget(self) -> None:
        """Something was drawn over the picture that was laid."""

    def lay(self, surface: pygame.Surface, image: pygame.Surface, rect: Rect, rim: int) -> None:
        """Lay a picture, or of one that stands there already what has changed, and the rim of the focus."""

    def closeup(self, spec: Any, size: tuple[int, int], label_px: float) -> Any:
        """Return the magnified interval with its anchors, or None while it is being made."""


@dataclass(frozen=True, slots=True)
class Brush:
    """What a painter of one node needs: the surface, the ground, the measures, the page's state."""

    surface: pygame.Surface
    ground: Ground
    measure: Measure
    ui: Ui
    gallery: Gallery

    def px(self, units: float) -> int:
        """Return units as whole pixels."""
        return self.measure.px(units)

    @property
    def hair(self) -> int:
        """The width of a hairline, in pixels."""
        return max(1, self.px(2 if self.ground.bold_lines else 1))

    def text(self, text: str, style: str, colour: Colour, rect: Rect, align: str = "left") -> None:
        """Write one line into a rectangle, centred upwards; what does not fit ends in an ellipsis."""
        shown = self.measure.type.fit(text, style, rect.w)
        if not shown or rect.w <= 0:
            return
        image = self.measure.type.render(shown, style, colour)
        x = rect.x
        if align == "right":
            x = rect.right - image.get_width()
        elif align == "centre":
            x = rect.x + (rect.w - image.get_width()) // 2
        self.surface.blit(image, (x, rect.y + (rect.h - image.get_height()) // 2))

    def icon(self, name: str, size: float, colour: Colour, centre: tuple[int, int]) -> None:
        """Draw an icon around a pixel."""
        image = shapes.icon(name, self.px(size), colour)
        self.surface.blit(image, image.get_rect(center=centre))

    def focused(self, placed: Placed) -> bool:
        """Return whether the widget has the focus."""
        return bool(placed.key) and self.ui.focus == placed.key

    def hovered(self, placed: Placed) -> bool:
        """Return whether the pointer is over the widget."""
        return bool(placed.key) and self.ui.hover == placed.key


def ring(brush: Brush, rect: Rect) -> None:
    """Draw the focus ring: two lines wide, a line's breadth clear of the widget."""
    width, clear = brush.px(2), brush.px(2)
    around = rect.inflate(2 * (width + clear), 2 * (width + clear))
    shapes.outline(brush.surface, around, brush.px(look.RADIUS + 3), width, brush.ground.accent)


def page(
    surface: pygame.Surface, layout: Layout, ui: Ui, ground: Ground, measure: Measure, gallery: Gallery
) -> None:
    """Draw everything of a page; the caller has laid the ground."""
    brush = Brush(surface, ground, measure, ui, gallery)
    for placed in layout.placed:
        if placed.rect.colliderect(placed.clip):
            surface.set_clip(placed.clip)
            PAINTERS[type(placed.node)](brush, placed)
    surface.set_clip(None)
    _scroll_bar(brush, layout)


def _scroll_bar(brush: Brush, layout: Layout) -> None:
    view = layout.scroll_rect
    if layout.scroll_height > view.h:
        width = brush.px(6)
        tall = max(brush.px(24), view.h * view.h // layout.scroll_height)
        most = layout.scroll_height - view.h
        y = view.y + (view.h - tall) * min(brush.ui.scroll, most) // most
        bar = Rect(view.right - width - brush.px(3), y, width, tall)
        shapes.box(brush.surface, bar, width // 2, brush.ground.edge)


def _stack(brush: Brush, placed: Placed) -> None:
    ground, rect = brush.ground, placed.rect
    match placed.node.ground:
        case "rail":
            shapes.satin(brush.surface, rect, ground.rail, ground.rail_light)
            brush.surface.fill(ground.edge, (rect.right - brush.hair, rect.y, brush.hair, rect.h))
        case "sheet" | "dialog":
            shapes.box(brush.surface, rect, brush.px(look.RADIUS), ground.sheet)
            edge = ground.edge if placed.node.ground == "dialog" or ground.bold_lines else ground.line
            shapes.outline(brush.surface, rect, brush.px(look.RADIUS), brush.hair, edge)
        case "brass":
            shapes.box(brush.surface, rect, brush.px(look.RADIUS), ground.brass_wash)
            brush.surface.fill(ground.brass, (rect.x, rect.y, brush.px(3), rect.h))
        case "strip":
            brush.surface.fill(ground.sheet, rect)
            brush.surface.fill(ground.edge, (rect.x, rect.y, rect.w, brush.hair))


def _label(brush: Brush, placed: Placed) -> None:
    node: nodes.Label = placed.node
    kind, colour = brush.measure.type, brush.ground.tone(node.tone)
    step = kind.line_height(node.style)
    lines = kind.wrap(node.text, node.style, placed.rect.w) if node.wrap else (node.text,)
    for row, line in enumerate(lines):
        where = Rect(placed.rect.x, placed.rect.y + row * step, placed.rect.w, step)
        brush.text(line, node.style, colour, where, node.align)


def _icon(brush: Brush, placed: Placed) -> None:
    brush.icon(placed.node.name, placed.node.size, brush.ground.tone(placed.node.tone), placed.rect.center)


def _scaled(brush: Brush, placed: Placed) -> None:
    """A hairline with tenths hanging from it, each fifth longer and each tenth longest."""
    rect, ground = placed.rect, brush.ground
    brush.surface.fill(ground.edge, (rect.x, rect.y, rect.w, brush.hair))
    step, number, x = brush.px(8), 0, rect.x
    while x < rect.right:
        long = 1.0 if number % 10 == 0 else 0.7 if number % 5 == 0 else 0.42
        brush.surface.fill(ground.edge, (x, rect.y, brush.hair, round(rect.h * long)))
        number, x = number + 1, x + step


def _progress(brush: Brush, placed: Placed) -> None:
    """One graduation an item; those done are engraved, the index mark stands at the next."""
    node, rect, ground = placed.node, placed.rect, brush.ground
    if node.of <= 0:
        return
    base = rect.bottom - brush.hair
    brush.surface.fill(ground.edge, (rect.x, base, rect.w, brush.hair))
    wide = max(brush.hair, min(brush.px(3), rect.w // (2 * node.of)))
    for i in range(node.of):
        x = rect.x + round((rect.w - wide) * i / max(1, node.of - 1))
        done = i < node.done
        tall = rect.h if (i + 1) % 5 == 0 or i == 0 else rect.h * 2 // 3
        colour = ground.ink if done else ground.edge
        brush.surface.fill(colour, (x, base - tall, wide if done else brush.hair, tall))
    done_w = round((rect.w - wide) * max(0, node.done - 1) / max(1, node.of - 1)) + wide if node.done else 0
    brush.surface.fill(ground.ink, (rect.x, rect.bottom - brush.px(3), done_w, brush.px(3)))


def _band(brush: Brush, placed: Placed) -> None:
    """A value and its interval on a graduated scale; limits are long lines with a flag."""
    node, rect, ground = placed.node, placed.rect, brush.ground
    base = rect.y + rect.h * 3 // 5

    def across(value: float) -> int:
        share: float = (value - node.start) / (node.end - node.start)
        return rect.x + round(max(0.0, min(1.0, share)) * (rect.w - 1))

    brush.surface.fill(ground.edge, (rect.x, base, rect.w, brush.hair))
    steps = round((node.end - node.start) * 2)
    steps = steps if steps <= 40 else round(node.end - node.start)
    for i in range(steps + 1):
        value = node.start + (node.end - node.start) * i / max(1, steps)
        whole = abs(value - round(value)) < 1e-6
        tall = brush.px(7 if whole else 4)
        brush.surface.fill(ground.edge, (across(value), base, brush.hair, tall))
    for limit in node.limits:
        x = across(limit)
        brush.surface.fill(ground.ink, (x, rect.y, max(brush.hair, brush.px(2)), base - rect.y + brush.px(8)))
    if node.low is not None and node.high is not None:
        x0, x1 = across(node.low), across(node.high)
        bar = Rect(x0, base - brush.px(10), max(1, x1 - x0), brush.px(6))
        brush.surface.fill(ground.accent, bar)
    if node.value is not None:
        image = shapes.mark("diamond", brush.px(15), ground.ink)
        brush.surface.blit(image, image.get_rect(center=(across(node.value), base - brush.px(7))))


def _picture(brush: Brush, placed: Placed) -> None:
    rect, spec = placed.rect, placed.node.spec
    image = brush.gallery.surface(spec, rect.size)
    if image is None:
        brush.surface.fill(brush.ground.rail, rect)
        return
    brush.gallery.lay(brush.surface, image, rect, brush.px(8) if brush.focused(placed) else 0)
    if getattr(spec, "feedback", False):
        _magnified(brush, rect, spec)
        brush.gallery.forget()
    if getattr(spec, "notes", ()):
        _notes(brush, rect, spec.notes)
        brush.gallery.forget()
    if brush.focused(placed):
        shapes.outline(brush.surface, rect, 0, brush.px(4), look.DARK.paper)
        shapes.outline(
            brush.surface, rect.inflate(-brush.px(2), -brush.px(2)), 0, brush.px(2), look.DARK.accent
        )


def _notes(brush: Brush, rect: Rect, notes: tuple[str, ...]) -> None:
    """Lay sentences on a sheet over the lower right of a picture."""
    kind, pad = brush.measure.type, brush.px(14)
    width = min(brush.px(520), rect.w // 2)
    lines = [line for note in notes for line in kind.wrap(note, "body", width - 2 * pad)]
    step = kind.line_height("body")
    height = len(lines) * step + 2 * pad
    at = Rect(rect.right - width - brush.px(20), rect.bottom - height - brush.px(20), width, height)
    shapes.box(brush.surface, at, brush.px(look.RADIUS), brush.ground.sheet)
    shapes.outline(brush.surface, at, brush.px(look.RADIUS), brush.hair, brush.ground.edge)
    for row, line in enumerate(lines):
        where = Rect(at.x + pad, at.y + pad + row * step, width - 2 * pad, step)
        brush.text(line, "body", brush.ground.ink, where)


def _magnified(brush: Brush, rect: Rect, spec: Any) -> None:
    """Lay the magnified interval over the quiet end of the sleeve and write its labels."""
    margin = brush.px(20)
    size = (min(brush.px(560), rect.w * 11 // 20), min(brush.px(440), rect.h - 2 * margin))
    if min(size) < brush.px(160):
        return
    kind = brush.measure.type
    made = brush.gallery.closeup(spec, size, kind.line_height("figure"))
    if made is None:
        return
    at = Rect((rect.x + margin, rect.y + (rect.h - size[1]) // 2), size)
    brush.surface.blit(pygame.image.frombuffer(made.picture.data, size, "RGB"), at.topleft)
    shapes.outline(brush.surface, at, 0, max(1, brush.px(2)), look.LIGHT.ink)
    for anchor in made.anchors:
        style = "small"
        if anchor.what in ("truth", "answer"):
            style = "figure" if size[0] >= brush.px(480) else "strong"
        high = kind.line_height(style)
        where = Rect(at.x + round(anchor.x_px), at.y + round(anchor.y_px - high / 2), 0, high)
        where.w = at.right - brush.px(4) - where.x
        text = anchor.text.replace("-", "\N{MINUS SIGN}").replace(".", spec.decimal)
        brush.text(text, style, look.LIGHT.ink, where)


def _ruler(brush: Brush, placed: Placed) -> None:
    node, rect, ground = placed.node, placed.rect, brush.ground
    w, h = round(node.width_px), round(node.height_px)
    box = Rect(rect.x + brush.px(12), rect.y + brush.px(12), w, max(h, brush.px(20)))
    clip = brush.surface.get_clip()
    if box.right > rect.right:  # without its right end it is seen not to be the whole length
        brush.surface.set_clip(clip.clip(rect.inflate(0, brush.px(16))))
    shapes.box(brush.surface, box, brush.px(8) if h else 0, ground.wash)
    shapes.outline(brush.surface, box, brush.px(8) if h else 0, max(1, brush.px(1.5)), ground.ink)
    for x in (box.x, box.right - 1):
        brush.surface.fill(ground.ink, (x, box.y - brush.px(8), 1, box.h + brush.px(16)))
    if brush.focused(placed):
        ring(brush, box.inflate(brush.px(10), brush.px(10)))
    brush.surface.set_clip(clip)


def _offset(brush: Brush, placed: Placed) -> None:
    """Two hairlines one pixel wide, end to end, on bare paper: nothing else helps the eye."""
    rect, ground = placed.rect, brush.ground
    brush.surface.fill(ground.field, rect)
    middle, half = rect.centerx, rect.h // 2
    brush.surface.fill(ground.ink, (middle, rect.y + half // 4, 1, half - half // 4))
    brush.surface.fill(ground.ink, (middle + placed.node.offset_px, rect.y + half, 1, half - half // 4))


def _widget_painters() -> Mapping[type, Callable[[Brush, Placed], None]]:
    from trainer.desktop import paint_plots, paint_tables, paint_widgets

    return {**paint_widgets.PAINTERS, **paint_tables.PAINTERS, **paint_plots.PAINTERS}


class _Painters(dict[type, Callable[[Brush, Placed], None]]):
    """The painters by node; those of widgets live in their own modules, which use this one."""

    def __missing__(self, kind: type) -> Callable[[Brush, Placed], None]:
        self.update(_widget_painters())
        return self[kind]


PAINTERS = _Painters(
    {
        nodes.Stack: _stack,
        nodes.Label: _label,
        nodes.Icon: _icon,
        nodes.Scaled: _scaled,
        nodes.Progress: _progress,
        nodes.Band: _band,
        nodes.Picture: _picture,
        nodes.Ruler: _ruler,
        nodes.Offset: _offset,
    }
)
