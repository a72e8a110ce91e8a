"""Where the points of a plot stand, which one is meant, and in what order they are walked: pure."""

from pygame import Rect

from trainer.desktop.measure import Measure
from trainer.desktop.nodes import Plot

Point = tuple[float, float, str, str]


def walk(plot: Plot) -> tuple[Point, ...]:
    """Return all points that tell something, from left to right."""
    points = [p for series in plot.series for p in series.points if p[2]]
    return tuple(sorted(points, key=lambda p: p[0]))


def area(plot: Plot, rect: Rect, measure: Measure) -> Rect:
    """Return the rectangle of a plot inside its axes, in pixels."""
    texts = [*(text for _, text in plot.y_ticks), *plot.names]
    left = max((measure.type.width(text, "small") for text in texts), default=0) + measure.px(12)
    left = min(left, rect.w // 3)
    top = measure.type.line_height("small") + measure.px(8)
    bottom = 2 * measure.type.line_height("small") + measure.px(8)
    return Rect(rect.x + left, rect.y + top, rect.w - left - measure.px(12), max(1, rect.h - top - bottom))


def at(plot: Plot, inside: Rect, x: float, y: float) -> tuple[float, float]:
    """Return the pixel of a pair of values."""
    (x0, x1), (y0, y1) = plot.x_range, plot.y_range
    across = (x - x0) / (x1 - x0) if x1 != x0 else 0.5
    up = (y - y0) / (y1 - y0) if y1 != y0 else 0.5
    up = max(-0.02, min(1.02, up))
    return inside.x + across * (inside.w - 1), inside.bottom - 1 - up * (inside.h - 1)


def nearest(plot: Plot, rect: Rect, measure: Measure, x: int, y: int) -> int | None:
    """Return the place in `walk` of the point nearest to a pixel, None when none is near."""
    inside = area(plot, rect, measure)
    best: tuple[float, int] | None = None
    for index, point in enumerate(walk(plot)):
        px, py = at(plot, inside, point[0], point[1])
        distance = ((px - x) ** 2 + (py - y) ** 2) ** 0.5
        if best is None or distance < best[0]:
            best = (distance, index)
    return best[1] if best and best[0] <= measure.px(40) else None


def nice_ticks(low: float, high: float, wanted: int = 5) -> tuple[tuple[float, str], ...]:
    """Return round values across a range, with their texts.

    >>> nice_ticks(0.0, 10.0, 5)
    ((0.0, '0'), (2.0, '2'), (4.0, '4'), (6.0, '6'), (8.0, '8'), (10.0, '10'))
    """
    span = max(high - low, 1e-9)
    raw = span / wanted
    power = 10.0
    while power > raw:
        power /= 10
    while power * 10 <= raw:
        power *= 10
    step = next(s * power for s in (1, 2, 5, 10) if s * power >= raw * 0.999)
    first = -(-low // step) if low % step else low // step
    ticks = []
    value = first * step
    while value <= high + step * 1e-6:
        tidy = round(value, 9) + 0.0
        ticks.append((tidy, f"{tidy:g}".replace("-", "\N{MINUS SIGN}")))
        value += step
    return tuple(ticks)
