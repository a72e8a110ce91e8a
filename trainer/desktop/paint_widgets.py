"""Drawing of what can be worked: buttons, fields, choices, toggles, steppers."""

from collections.abc import Callable

from pygame import Rect

from trainer.desktop import fields, look, nodes, shapes
from trainer.desktop.editing import selection
from trainer.desktop.hands import memory_of
from trainer.desktop.layout import Placed
from trainer.desktop.look import Colour
from trainer.desktop.measure import control_box, field_box
from trainer.desktop.paint import Brush, ring


def number_text(value: float, decimals: int, mark: str = ".") -> str:
    """Return a number with a true minus sign and the wanted decimal mark.

    >>> number_text(-0.25, 2, ",")
    '−0,25'
    """
    return f"{value:.{decimals}f}".replace("-", "\N{MINUS SIGN}").replace(".", mark)


def _button(brush: Brush, placed: Placed) -> None:
    node: nodes.Button = placed.node
    if node.kind == "rail":
        _rail_button(brush, placed)
        return
    rect, ground = placed.rect, brush.ground
    down, over = brush.ui.pressed == placed.key, brush.hovered(placed) and node.enabled
    fill: Colour | None = None
    ink, edge = ground.ink, ground.edge
    if node.kind == "main":
        fill, ink, edge = ground.accent, ground.accent_ink, ground.accent
    elif node.kind in ("plain", "keycap"):
        fill = ground.wash if over or down or node.chosen else ground.sheet
    elif over or down or node.chosen:
        fill = ground.wash
    if not node.enabled:
        fill, ink, edge = (ground.sheet if fill else None), ground.soft, ground.line
    radius = brush.px(look.RADIUS)
    shapes.box(brush.surface, rect, radius, fill)
    if node.kind in ("plain", "keycap", "main"):
        shapes.outline(brush.surface, rect, radius, brush.hair, edge)
    if node.kind == "main" and node.enabled and (over or down):
        inner = rect.inflate(-brush.px(6), -brush.px(6))
        shapes.outline(brush.surface, inner, radius, max(1, brush.px(1)), ground.accent_ink)
    if node.kind == "link":
        ink = ground.accent
    _button_text(brush, node, rect, ink)
    if brush.focused(placed):
        ring(brush, rect)


def _button_text(brush: Brush, node: nodes.Button, rect: Rect, ink: Colour) -> None:
    if not node.text:
        brush.icon(node.icon, 18, ink, rect.center)
        return
    text_w = brush.measure.type.width(node.text, "body")
    icon_w = brush.px(26) if node.icon else 0
    pad = brush.px(6)
    start = rect.x + max(pad, (rect.w - text_w - icon_w) // 2)
    if node.kind == "link":
        start = rect.x + pad
    if node.icon:
        brush.icon(node.icon, 18, ink, (start + brush.px(9), rect.centery))
    brush.text(
        node.text, "body", ink, Rect(start + icon_w, rect.y, rect.right - pad - start - icon_w, rect.h)
    )


def _rail_button(brush: Brush, placed: Placed) -> None:
    """A graduation of the rail: the chosen one is met by the index line from the right."""
    node, rect, ground = placed.node, placed.rect, brush.ground
    if brush.hovered(placed) and not node.chosen:
        shapes.box(brush.surface, rect, brush.px(look.RADIUS), ground.wash)
    if node.chosen:
        shapes.box(brush.surface, rect, brush.px(look.RADIUS), ground.sheet)
        brush.surface.fill(ground.accent, (rect.right - brush.px(4), rect.y, brush.px(4), rect.h))
    ink = ground.ink
    brush.icon(node.icon, 20, ink, (rect.x + brush.px(20), rect.centery))
    left = rect.x + brush.px(40)
    if rect.w > brush.px(80):
        style = "strong" if node.chosen else "body"
        brush.text(node.text, style, ink, Rect(left, rect.y, rect.right - left - brush.px(8), rect.h))
    if brush.focused(placed):
        ring(brush, rect.inflate(-brush.px(4), -brush.px(4)))


def _field(brush: Brush, placed: Placed) -> None:
    node: nodes.Field = placed.node
    kind, ground = brush.measure.type, brush.ground
    box = field_box(brush.measure, node, placed.rect)
    if not node.compact:
        above = Rect(placed.rect.x, placed.rect.y, placed.rect.w, kind.line_height("small"))
        brush.text(node.label, "small", ground.soft, above)
    radius = brush.px(look.RADIUS)
    shapes.box(brush.surface, box, radius, ground.field if node.enabled else ground.sheet)
    wide = max(brush.hair, brush.px(2)) if node.reason else brush.hair
    shapes.outline(brush.surface, box, radius, wide, ground.brass if node.reason else ground.edge)
    _field_text(brush, placed, box)
    if brush.focused(placed):
        ring(brush, box)
    if not node.compact:
        tone = ground.brass if node.reason else ground.soft
        y = box.bottom + brush.px(3)
        for line in kind.wrap(node.reason or node.hint, "small", placed.rect.w):
            brush.text(line, "small", tone, Rect(placed.rect.x, y, placed.rect.w, kind.line_height("small")))
            y += kind.line_height("small")


def _field_text(brush: Brush, placed: Placed, box: Rect) -> None:
    node, ground, kind = placed.node, brush.ground, brush.measure.type
    room = fields.inside(brush.measure, node, box)
    if node.unit:
        unit = Rect(room.right + brush.px(4), box.y, box.right - room.right - brush.px(14), box.h)
        brush.text(node.unit, node.style, ground.soft, unit, "right")
    memory = memory_of(brush.ui, placed)
    start = fields.text_start(brush.measure, node, box, memory)
    before = brush.surface.get_clip()
    brush.surface.set_clip(room.inflate(brush.px(4), 0).clip(before))
    focused = brush.focused(placed)
    first, last = selection(node.value, memory)
    if focused and first != last:
        x0 = start + kind.width(node.seen[:first], node.style)
        x1 = start + kind.width(node.seen[:last], node.style)
        brush.surface.fill(ground.wash, (x0, box.y + brush.px(5), x1 - x0, box.h - brush.px(10)))
    if node.value:
        image = kind.render(node.seen, node.style, ground.ink)
        brush.surface.blit(image, (start, box.y + (box.h - image.get_height()) // 2))
    if focused and node.enabled:
        x = start + kind.width(node.seen[: memory.caret], node.style)
        wide = max(1, brush.px(1.5))
        brush.surface.fill(ground.accent, (x, box.y + brush.px(7), wide, box.h - brush.px(14)))
    brush.surface.set_clip(before)


def _caption(brush: Brush, placed: Placed) -> Rect:
    box = control_box(brush.measure, placed.node, placed.rect)
    if placed.node.label:
        above = Rect(placed.rect.x, placed.rect.y, placed.rect.w, brush.measure.type.line_height("small"))
        brush.text(placed.node.label, "small", brush.ground.soft, above)
    return box


def _choice(brush: Brush, placed: Placed) -> None:
    node, ground = placed.node, brush.ground
    box = _caption(brush, placed)
    radius, count = brush.px(look.RADIUS), len(node.options)
    shapes.box(brush.surface, box, radius, ground.sheet)
    for i, (value, text) in enumerate(node.options):
        x0, x1 = box.x + box.w * i // count, box.x + box.w * (i + 1) // count
        part = Rect(x0, box.y, x1 - x0, box.h)
        chosen = value == node.value
        if chosen:
            shapes.box(brush.surface, part, radius, ground.wash)
            brush.surface.fill(ground.accent, (part.x, part.bottom - brush.px(3), part.w, brush.px(3)))
        if i:
            brush.surface.fill(ground.edge, (x0, box.y, brush.hair, box.h))
        style = "strong" if chosen else "body"
        if brush.measure.type.width(text, style) > part.w - brush.px(8):
            style = "body"
        brush.text(text, style, ground.ink, part.inflate(-brush.px(8), 0), "centre")
    shapes.outline(brush.surface, box, radius, brush.hair, ground.edge)
    if brush.focused(placed):
        ring(brush, box)


def _toggle(brush: Brush, placed: Placed) -> None:
    """A slide with two ends: the slider at the right and a tick in it for yes."""
    node, rect, ground = placed.node, placed.rect, brush.ground
    slot = Rect(rect.x, rect.centery - brush.px(10), brush.px(40), brush.px(20))
    shapes.box(brush.surface, slot, brush.px(look.RADIUS), ground.accent if node.on else ground.field)
    shapes.outline(brush.surface, slot, brush.px(look.RADIUS), brush.hair, ground.edge)
    side = brush.px(16)
    x = slot.right - side - brush.px(2) if node.on else slot.x + brush.px(2)
    slider = Rect(x, slot.y + brush.px(2), side, side)
    shapes.box(brush.surface, slider, brush.px(2), ground.accent_ink if node.on else ground.edge)
    if node.on:
        brush.icon("check", 12, ground.accent, slider.center)
    kind = brush.measure.type
    left = slot.right + brush.px(12)
    lines = kind.wrap(node.label, "body", max(1, rect.right - left))
    y = rect.centery - len(lines) * kind.line_height("body") // 2
    for line in lines:
        brush.text(line, "body", ground.ink, Rect(left, y, rect.right - left, kind.line_height("body")))
        y += kind.line_height("body")
    if brush.focused(placed):
        ring(brush, slot)


def _stepper(brush: Brush, placed: Placed) -> None:
    node, ground = placed.node, brush.ground
    box = _caption(brush, placed)
    radius = brush.px(look.RADIUS)
    shapes.box(brush.surface, box, radius, ground.field)
    shapes.outline(brush.surface, box, radius, brush.hair, ground.edge)
    for x, sign in ((box.x, "minus"), (box.right - box.h, "plus")):
        part = Rect(x, box.y, box.h, box.h)
        bar = Rect(0, 0, brush.px(12), max(1, brush.px(1.7)))
        bar.center = part.center
        possible = node.value > node.low if sign == "minus" else node.value < node.high
        colour = ground.ink if possible else ground.line
        brush.surface.fill(colour, bar)
        if sign == "plus":
            up = Rect(0, 0, bar.h, bar.w)
            up.center = part.center
            brush.surface.fill(colour, up)
        line_x = box.x + box.h if sign == "minus" else box.right - box.h
        brush.surface.fill(ground.edge, (line_x, box.y, brush.hair, box.h))
    text = number_text(node.value, node.decimals) + (f"\N{NO-BREAK SPACE}{node.unit}" if node.unit else "")
    brush.text(text, "body", ground.ink, box.inflate(-2 * box.h, 0), "centre")
    if brush.focused(placed):
        ring(brush, box)


PAINTERS: dict[type, Callable[[Brush, Placed], None]] = {
    nodes.Button: _button,
    nodes.Field: _field,
    nodes.Choice: _choice,
    nodes.Toggle: _toggle,
    nodes.Stepper: _stepper,
}
