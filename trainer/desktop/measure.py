"""Heights and natural widths of nodes, in pixels at one scale."""

from collections.abc import Callable
from typing import Any

from pygame import Rect

from trainer.desktop import look, nodes
from trainer.desktop.fonts import Type


class Measure:
    """Heights and natural widths of nodes, in pixels at one scale."""

    def __init__(self, kind: Type) -> None:
        self.type = kind

    def px(self, units: float) -> int:
        """Return units as whole pixels."""
        return round(units * self.type.scale)

    def height(self, node: Any, width: int) -> int:
        """Return the height a node needs at a width."""
        return _HEIGHTS[type(node)](self, node, width)

    def width(self, node: Any) -> int:
        """Return the width a node would choose."""
        chosen = getattr(node, "width", 0)
        if chosen:
            return self.px(chosen)
        found = _WIDTHS.get(type(node))
        return found(self, node) if found else self.px(160)

    def split(self, row: nodes.Row, width: int) -> list[int]:
        """Return the widths of a row's children."""
        shares = row.shares or tuple(1.0 for _ in row.children)
        gaps = self.px(row.gap) * (len(row.children) - 1)
        own = [0 if s else self.width(c) for c, s in zip(row.children, shares, strict=True)]
        if sum(own) > width - gaps:
            own = _squeezed(row.children, own, width - gaps)
        left = max(0, width - gaps - sum(own))
        total = sum(shares) or 1.0
        return [round(left * s / total) if s else o for s, o in zip(shares, own, strict=True)]

    def folded(self, row: nodes.Row, width: int) -> bool:
        """Return whether the row has too little width and puts its children under each other."""
        return bool(row.fold) and width < self.px(row.fold)


def _squeezed(children: tuple[Any, ...], own: list[int], room: int) -> list[int]:
    """Return widths that fit: buttons and icons keep theirs, everything else gives way in proportion."""
    firm = [w if isinstance(c, nodes.Button | nodes.Icon) else 0 for c, w in zip(children, own, strict=True)]
    soft = sum(own) - sum(firm)
    share = max(0.0, room - sum(firm)) / soft if soft else 0.0
    return [f or int(w * share) for f, w in zip(firm, own, strict=True)]


def _label_height(m: Measure, node: nodes.Label, width: int) -> int:
    lines = len(m.type.wrap(node.text, node.style, width)) if node.wrap else 1
    return lines * m.type.line_height(node.style)


def _field_height(m: Measure, node: nodes.Field, width: int) -> int:
    box = _field_box(m, node)
    if node.compact:
        return box
    width = min(width, m.px(node.width)) if node.width else width
    below = node.reason or node.hint
    lines = len(m.type.wrap(below, "small", width)) if below else 1
    return m.type.line_height("small") + m.px(3) + box + m.px(3) + lines * m.type.line_height("small")


def _field_box(m: Measure, node: nodes.Field) -> int:
    return max(m.px(look.CONTROL), m.type.line_height(node.style) + m.px(10))


def _labelled(m: Measure, node: Any, width: int) -> int:
    label = m.type.line_height("small") + m.px(3) if node.label else 0
    return label + m.px(look.CONTROL)


def _toggle_height(m: Measure, node: nodes.Toggle, width: int) -> int:
    lines = len(m.type.wrap(node.label, "body", max(1, width - m.px(54))))
    return max(m.px(look.CONTROL), lines * m.type.line_height("body") + m.px(10))


def _stack_height(m: Measure, node: nodes.Stack, width: int) -> int:
    if node.height:
        return m.px(node.height)
    inner = width - 2 * m.px(node.pad[0])
    gaps = m.px(node.gap) * max(0, len(node.children) - 1)
    return 2 * m.px(node.pad[1]) + gaps + sum(m.height(c, inner) for c in node.children)


def _row_height(m: Measure, node: nodes.Row, width: int) -> int:
    if m.folded(node, width):
        gaps = m.px(node.gap) * (len(node.children) - 1)
        return gaps + sum(m.height(c, width) for c in node.children)
    return max((m.height(c, w) for c, w in zip(node.children, m.split(node, width), strict=True)), default=0)


def _button_height(m: Measure, node: nodes.Button, width: int) -> int:
    if node.kind == "link":
        return m.type.line_height("body") + m.px(8)
    return m.px(40 if node.kind == "rail" else look.CONTROL)


_HEIGHTS: dict[type, Callable[[Measure, Any, int], int]] = {
    nodes.Label: _label_height,
    nodes.Icon: lambda m, n, w: m.px(n.size),
    nodes.Gap: lambda m, n, w: m.px(n.size),
    nodes.Scaled: lambda m, n, w: m.px(n.height),
    nodes.Button: _button_height,
    nodes.Field: _field_height,
    nodes.Choice: _labelled,
    nodes.Toggle: _toggle_height,
    nodes.Stepper: _labelled,
    nodes.Table: lambda m, n, w: m.px(look.ROW) * (n.rows_shown + 1) + m.px(2),
    nodes.Progress: lambda m, n, w: m.px(n.height),
    nodes.Band: lambda m, n, w: m.px(n.height),
    nodes.Plot: lambda m, n, w: m.px(n.height),
    nodes.Picture: lambda m, n, w: m.px(n.height),
    nodes.Offset: lambda m, n, w: m.px(n.height),
    nodes.Ruler: lambda m, n, w: max(round(n.height_px), m.px(20)) + m.px(24),
    nodes.Stack: _stack_height,
    nodes.Row: _row_height,
}


def _button_width(m: Measure, node: nodes.Button) -> int:
    icon = m.px(26) if node.icon else 0
    text = m.type.width(node.text, "body") if node.text else 0
    if not node.text:
        return m.px(look.CONTROL)
    return text + icon + m.px(12 if node.kind in ("link", "keycap") else 30)


def _choice_width(m: Measure, node: nodes.Choice) -> int:
    widest = max(m.type.width(text, "strong") for _, text in node.options)
    return max((widest + m.px(26)) * len(node.options), m.type.width(node.label, "small"))


def _stack_width(m: Measure, node: nodes.Stack) -> int:
    return 2 * m.px(node.pad[0]) + max((m.width(c) for c in node.children), default=0)


def _row_width(m: Measure, node: nodes.Row) -> int:
    return sum(m.width(c) for c in node.children) + m.px(node.gap) * max(0, len(node.children) - 1)


_WIDTHS: dict[type, Callable[[Measure, Any], int]] = {
    nodes.Label: lambda m, n: max((m.type.width(t, n.style) for t in n.text.split("\n")), default=0) + 1,
    nodes.Icon: lambda m, n: m.px(n.size),
    nodes.Gap: lambda m, n: m.px(n.size),
    nodes.Button: _button_width,
    nodes.Field: lambda m, n: m.px(240),
    nodes.Choice: _choice_width,
    nodes.Toggle: lambda m, n: m.type.width(n.label, "body") + m.px(56),
    nodes.Stepper: lambda m, n: max(m.px(190), m.type.width(n.label, "small")),
    nodes.Stack: _stack_width,
    nodes.Row: _row_width,
    nodes.Progress: lambda m, n: m.px(200),
}


def field_box(m: Measure, node: nodes.Field, rect: Rect) -> Rect:
    """Return the box of a field inside the rectangle that also holds its label and its reason."""
    if node.compact:
        return Rect(rect.x, rect.y, rect.w, _field_box(m, node))
    return Rect(rect.x, rect.y + m.type.line_height("small") + m.px(3), rect.w, _field_box(m, node))


def control_box(m: Measure, node: Any, rect: Rect) -> Rect:
    """Return the box of a choice or stepper below its label."""
    label = m.type.line_height("small") + m.px(3) if node.label else 0
    return Rect(rect.x, rect.y + label, rect.w, rect.h - label)
