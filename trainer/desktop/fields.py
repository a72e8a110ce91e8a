"""Where the text of a field stands inside its box, so that the caret is always in sight: pure."""

from pygame import Rect

from trainer.desktop.measure import Measure
from trainer.desktop.nodes import Field
from trainer.desktop.ui import Memory


def inside(measure: Measure, node: Field, box: Rect) -> Rect:
    """Return the part of a field's box that its text may fill; the unit stands at the right of it."""
    pad = measure.px(10)
    unit = measure.type.width(node.unit, node.style) + measure.px(8) if node.unit else 0
    return Rect(box.x + pad, box.y, max(1, box.w - 2 * pad - unit), box.h)


def text_start(measure: Measure, node: Field, box: Rect, memory: Memory) -> int:
    """Return the pixel at which the text begins; left of the box when the caret would be past its end."""
    room = inside(measure, node, box)
    caret = measure.type.width(node.seen[: memory.caret], node.style)
    return room.x - max(0, caret + measure.px(2) - room.w)


def caret_at(measure: Measure, node: Field, box: Rect, memory: Memory, x: int) -> int:
    """Return the place between characters that is nearest to a pixel."""
    along = x - text_start(measure, node, box, memory)
    ends = [measure.type.width(node.seen[:i], node.style) for i in range(len(node.value) + 1)]
    return min(range(len(ends)), key=lambda i: abs(ends[i] - along))
