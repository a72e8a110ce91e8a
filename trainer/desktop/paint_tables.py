"""Drawing of a table: only the rows in sight, whatever their number."""

from collections.abc import Callable

from pygame import Rect

from trainer.desktop import look, nodes, shapes, tables
from trainer.desktop.hands import column_widths, memory_of
from trainer.desktop.layout import Placed
from trainer.desktop.paint import Brush, ring


def _table(brush: Brush, placed: Placed) -> None:
    node: nodes.Table = placed.node
    rect, ground = placed.rect, brush.ground
    shapes.box(brush.surface, rect, brush.px(look.RADIUS), ground.sheet)
    row_px, widths = brush.px(look.ROW), column_widths(node, rect.w)
    fit = max(1, (rect.h - row_px) // row_px)
    memory = tables.settled(memory_of(brush.ui, placed), fit, len(node.lines))
    _heading(brush, placed, widths)
    shown = tables.lines(node, memory)
    for place, line in enumerate(shown[memory.top : memory.top + fit]):
        index = memory.top + place
        where = Rect(rect.x, rect.y + row_px * (place + 1), rect.w, row_px)
        if index == min(memory.cursor, len(shown) - 1):
            brush.surface.fill(ground.wash, where)
            brush.surface.fill(ground.accent, (where.x, where.y, brush.px(3), where.h))
        brush.surface.fill(ground.line, (where.x, where.bottom - brush.hair, where.w, brush.hair))
        _cells(brush, node, line, where, widths)
    if not shown and node.empty:
        room = Rect(rect.x, rect.y + row_px, rect.w, max(row_px, rect.h - row_px)).inflate(-brush.px(24), 0)
        _empty(brush, node.empty, room)
    _bar(brush, rect, row_px, memory.top, fit, len(shown))
    shapes.outline(brush.surface, rect, brush.px(look.RADIUS), brush.hair, ground.edge)
    if brush.focused(placed):
        ring(brush, rect)


def _empty(brush: Brush, text: str, room: Rect) -> None:
    kind = brush.measure.type
    lines = kind.wrap(text, "body", room.w)
    y = room.y + max(0, (room.h - len(lines) * kind.line_height("body")) // 2)
    for line in lines:
        brush.text(
            line, "body", brush.ground.soft, Rect(room.x, y, room.w, kind.line_height("body")), "centre"
        )
        y += kind.line_height("body")


def _heading(brush: Brush, placed: Placed, widths: list[int]) -> None:
    node, ground, rect = placed.node, brush.ground, placed.rect
    column, descending = tables.order(node, memory_of(brush.ui, placed))
    row_px, x = brush.px(look.ROW), rect.x
    for i, (spec, width) in enumerate(zip(node.columns, widths, strict=True)):
        room = Rect(x, rect.y, width, row_px).inflate(-brush.px(28), 0)
        arrow = brush.px(14) if i == column else 0
        text_w = min(brush.measure.type.width(spec.title, "small"), room.w - arrow)
        left = room.right - text_w - arrow if spec.align == "right" else room.x
        brush.text(spec.title, "small", ground.soft, Rect(left, room.y, text_w, room.h))
        if arrow:
            centre = (left + text_w + arrow // 2 + brush.px(2), room.centery)
            brush.icon("down" if descending else "up", 12, ground.ink, centre)
        x += width
    brush.surface.fill(ground.edge, (rect.x, rect.y + row_px - brush.hair, rect.w, brush.hair))


def _cells(brush: Brush, node: nodes.Table, line: nodes.Line, where: Rect, widths: list[int]) -> None:
    x = where.x
    for spec, text, width in zip(node.columns, line.cells, widths, strict=True):
        room = Rect(x, where.y, width, where.h).inflate(-brush.px(28), 0)
        brush.text(text, "body", brush.ground.ink, room, spec.align)
        x += width


def _bar(brush: Brush, rect: Rect, head: int, top: int, fit: int, count: int) -> None:
    if count <= fit:
        return
    track = rect.h - head
    tall = max(brush.px(20), track * fit // count)
    y = rect.y + head + (track - tall) * top // (count - fit)
    bar = Rect(rect.right - brush.px(9), y, brush.px(6), tall)
    shapes.box(brush.surface, bar, brush.px(3), brush.ground.edge)


PAINTERS: dict[type, Callable[[Brush, Placed], None]] = {nodes.Table: _table}
