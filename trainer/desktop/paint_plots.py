"""Drawing of plots in the window: axes, bands, points with intervals, and the one that is pointed at."""

from collections.abc import Callable

import pygame
from pygame import Rect

from trainer.desktop import look, nodes, plots, shapes
from trainer.desktop.hands import memory_of
from trainer.desktop.layout import Placed
from trainer.desktop.paint import Brush, ring


def _plot(brush: Brush, placed: Placed) -> None:
    node: nodes.Plot = placed.node
    inside = plots.area(node, placed.rect, brush.measure)
    brush.surface.fill(brush.ground.sheet, inside)
    _bands(brush, node, inside)
    _axes(brush, node, inside, placed.rect)
    for series in node.series:
        _series(brush, node, series, inside)
    if not any(series.points for series in node.series) and node.empty:
        brush.text(node.empty, "body", brush.ground.soft, inside.inflate(-brush.px(16), 0), "centre")
    focused = brush.focused(placed)
    if focused:
        ring(brush, inside)
    if focused or brush.hovered(placed):
        _told(brush, placed, inside)


def _bands(brush: Brush, node: nodes.Plot, inside: Rect) -> None:
    for low, high in node.bands:
        _, y0 = plots.at(node, inside, node.x_range[0], high)
        _, y1 = plots.at(node, inside, node.x_range[0], low)
        brush.surface.fill(brush.ground.wash, Rect(inside.x, y0, inside.w, max(1, y1 - y0)).clip(inside))


def _axes(brush: Brush, node: nodes.Plot, inside: Rect, rect: Rect) -> None:
    kind, ground = brush.measure.type, brush.ground
    small = kind.line_height("small")
    for value, text in node.y_ticks:
        _, y = plots.at(node, inside, node.x_range[0], value)
        colour = ground.edge if value == 0 and not node.names else ground.line
        brush.surface.fill(colour, (inside.x, round(y), inside.w, brush.hair))
        where = Rect(rect.x, round(y) - small // 2, inside.x - rect.x - brush.px(8), small)
        brush.text(text, "small", ground.soft, where, "right")
    if node.names and node.x_range[0] < 0 < node.x_range[1]:
        x, _ = plots.at(node, inside, 0.0, 0.0)
        brush.surface.fill(ground.ink, (round(x), inside.y, brush.hair, inside.h))
    for value, text in node.x_ticks:
        x, _ = plots.at(node, inside, value, node.y_range[0])
        brush.surface.fill(ground.edge, (round(x), inside.bottom, brush.hair, brush.px(5)))
        where = Rect(round(x) - brush.px(40), inside.bottom + brush.px(5), brush.px(80), small)
        brush.text(text, "small", ground.soft, where, "centre")
    for value, name in node.lines:
        _, y = plots.at(node, inside, node.x_range[0], value)
        brush.surface.fill(ground.ink, (inside.x, round(y), inside.w, brush.hair))
        where = Rect(inside.x, round(y) - small, inside.w - brush.px(4), small)
        brush.text(name, "small", ground.ink, where, "right")
    shapes.outline(brush.surface, inside, 0, brush.hair, ground.edge)
    below = Rect(inside.x, inside.bottom + brush.px(5) + small, inside.w, small)
    brush.text(node.x_title, "small", ground.soft, below, "right")
    brush.text(node.y_title, "small", ground.soft, Rect(rect.x, rect.y, rect.w, small))


def _series(brush: Brush, node: nodes.Plot, series: nodes.Series, inside: Rect) -> None:
    colour = brush.ground.tone(series.tone)
    places = [plots.at(node, inside, p[0], p[1]) for p in series.points]
    if series.columns:
        _columns(brush, node, series, inside)
        return
    for (x, _), (low, high) in zip(places, series.bars, strict=False):
        _, y0 = plots.at(node, inside, 0, high)
        _, y1 = plots.at(node, inside, 0, low)
        wide = max(1, brush.px(1.5))
        brush.surface.fill(colour, Rect(x - wide / 2, y0, wide, max(1, y1 - y0)))
    for (x, y), (low, high, spread) in zip(places, series.across, strict=False):
        _across(brush, node, inside, (round(x), round(y)), (low, high, spread))
    if series.joined:
        shapes.polyline(brush.surface, places, max(1, brush.px(1.5)), colour)
    image = shapes.mark(series.shape, max(5, brush.px(8)), colour)
    if len(places) > 400:
        image = shapes.mark(series.shape, max(3, brush.px(4)), colour)
    brush.surface.blits([(image, image.get_rect(center=(round(x), round(y)))) for x, y in places])


def _across(
    brush: Brush, node: nodes.Plot, inside: Rect, at: tuple[int, int], ends: tuple[float, float, float]
) -> None:
    """Draw an interval as a bar along x, and the spread either side of the point as a thin line with ends."""
    low, high, spread = ends
    x0, _ = plots.at(node, inside, low, 0)
    x1, _ = plots.at(node, inside, high, 0)
    step = (inside.w - 1) / (node.x_range[1] - node.x_range[0]) * spread
    ground = brush.ground
    thin = Rect(round(at[0] - step), at[1], max(1, round(2 * step)), brush.hair).clip(inside)
    brush.surface.fill(ground.edge, thin)
    for x in (thin.x, thin.right - brush.hair):
        brush.surface.fill(ground.edge, Rect(x, at[1] - brush.px(4), brush.hair, brush.px(9)).clip(inside))
    bar = Rect(round(x0), at[1] - brush.px(3), max(2, round(x1 - x0)), brush.px(7)).clip(inside)
    brush.surface.fill(ground.accent, bar)


def _columns(brush: Brush, node: nodes.Plot, series: nodes.Series, inside: Rect) -> None:
    colour = brush.ground.tone(series.tone)
    _, zero = plots.at(node, inside, 0, 0)
    span = node.x_range[1] - node.x_range[0]
    wide = max(2, round(inside.w / max(span, 1) * 0.55))
    for x, y, _, _ in series.points:
        px, py = plots.at(node, inside, x, y)
        top, bottom = min(py, zero), max(py, zero)
        brush.surface.fill(colour, Rect(round(px - wide / 2), round(top), wide, max(1, round(bottom - top))))


def _told(brush: Brush, placed: Placed, inside: Rect) -> None:
    """Mark the point of the cursor and tell what it is, in a slip beside it."""
    points = plots.walk(placed.node)
    if not points:
        return
    x, y, text, _ = points[min(memory_of(brush.ui, placed).cursor, len(points) - 1)]
    px, py = plots.at(placed.node, inside, x, y)
    size = brush.px(18)
    image = shapes.mark("ring", size, brush.ground.ink)
    brush.surface.blit(image, image.get_rect(center=(round(px), round(py))))
    slip(brush, text, (round(px), round(py)), brush.surface.get_rect())


def slip(brush: Brush, text: str, near: tuple[int, int], bounds: Rect) -> None:
    """Write a text on a slip of paper above a pixel, or below where there is no room."""
    kind, ground = brush.measure.type, brush.ground
    lines = kind.wrap(text, "small", brush.px(320))
    width = max(kind.width(line, "small") for line in lines) + brush.px(20)
    height = len(lines) * kind.line_height("small") + brush.px(12)
    box = Rect(near[0] - width // 2, near[1] - height - brush.px(14), width, height)
    if box.y < bounds.y + brush.px(4):
        box.y = near[1] + brush.px(16)
    box.clamp_ip(bounds.inflate(-brush.px(8), -brush.px(8)))
    before = brush.surface.get_clip()
    brush.surface.set_clip(None)
    shapes.box(brush.surface, box, brush.px(look.RADIUS), ground.ink)
    for i, line in enumerate(lines):
        step = kind.line_height("small")
        where = Rect(box.x + brush.px(10), box.y + brush.px(6) + i * step, box.w - brush.px(20), step)
        brush.text(line, "small", ground.paper, where)
    brush.surface.set_clip(before)


def toast(brush: Brush, text: str, bounds: pygame.Rect, at_head: bool = False) -> None:
    """Say something at the foot of the window, or at its head where answers are typed at the foot."""
    slip(brush, text, (bounds.centerx, 0 if at_head else bounds.bottom - brush.px(20)), bounds)


PAINTERS: dict[type, Callable[[Brush, Placed], None]] = {nodes.Plot: _plot}
