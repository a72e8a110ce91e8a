"""From a node to rectangles: measure heights, then place. Pure but for the type that measures text."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from pygame import Rect

from trainer.desktop import look, nodes
from trainer.desktop.fonts import Type


@dataclass(frozen=True, slots=True)
class Placed:
    """A node with the rectangle it fills, in pixels, and the part of the window it may draw in."""

    node: Any
    rect: Rect
    clip: Rect

    @property
    def key(self) -> str:
        """The widget's key, "" for one that cannot have the focus."""
        return getattr(self.node, "key", "")


@dataclass(frozen=True, slots=True)
class Layout:
    """A page laid out: everything placed, in drawing and Tab order, and how far its body scrolls."""

    placed: tuple[Placed, ...]
    scroll_rect: Rect
    scroll_height: int  # pixels of the body; more than scroll_rect.h means that it scrolls

    def find(self, key: str) -> Placed | None:
        """Return the widget of that key."""
        return next((p for p in self.placed if p.key == key), None) if key else None

    def at(self, x: int, y: int) -> Placed | None:
        """Return the topmost widget with a key under a pixel."""
        for placed in reversed(self.placed):
            if placed.key and placed.rect.collidepoint(x, y) and placed.clip.collidepoint(x, y):
                return placed
        return None

    @property
    def focusable(self) -> tuple[Placed, ...]:
        """What Tab walks through."""
        return tuple(
            p
            for p in self.placed
            if p.key and isinstance(p.node, nodes.FOCUSABLE) and getattr(p.node, "enabled", True)
        )


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
    widest = max(m.type.width(text, "body") for _, text in node.options)
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


def place(node: Any, size: tuple[int, int], kind: Type, scroll: int = 0) -> Layout:
    """Lay a whole screen out in a window of `size` pixels; `scroll` pixels of its body are above the top."""
    m = Measure(kind)
    window = Rect((0, 0), size)
    out: list[Placed] = []
    if isinstance(node, nodes.Frame):
        return _place_frame(m, node, window, scroll)
    if isinstance(node, nodes.Dialog):
        return _place_dialog(m, node, window, scroll)
    if isinstance(node, nodes.Bare):
        strip = m.height(node.strip, window.w)
        view = Rect(0, 0, window.w, window.h - strip)
        height = max(view.h, m.height(node.body, view.w))
        scroll = max(0, min(scroll, height - view.h))
        _put(m, node.body, Rect(0, -scroll, view.w, height), view, out)
        foot = Rect(0, view.h, window.w, strip)
        _put(m, node.strip, foot, foot, out)
        return Layout(tuple(out), view, height)
    height = max(window.h, m.height(node, window.w))
    scroll = max(0, min(scroll, height - window.h))
    _put(m, node, Rect(0, -scroll, window.w, height), window, out)
    return Layout(tuple(out), window, height)


def _place_frame(m: Measure, node: nodes.Frame, window: Rect, scroll: int) -> Layout:
    out: list[Placed] = []
    narrow = window.w < m.px(look.NARROW_BELOW)
    rail = Rect(0, 0, m.px(look.RAIL_NARROW if narrow else look.RAIL), window.h)
    out.append(Placed(nodes.Stack((), ground="rail"), rail, rail))
    room = rail.inflate(-m.px(16), -m.px(32))
    _put_rail(m, node.rail, narrow, room, rail, out)
    foot = m.height(node.foot, window.w - rail.w) if node.foot is not None else 0
    view = Rect(rail.w, 0, window.w - rail.w, window.h - foot)
    side = m.px(16 if narrow else 32)
    width = min(view.w - 2 * side, m.px(look.READABLE))
    pad = m.px(24)
    height = m.height(node.body, width) + 2 * pad
    scroll = max(0, min(scroll, height - view.h))
    _put(m, node.body, Rect(view.x + side, pad - scroll, width, max(height, view.h) - 2 * pad), view, out)
    if node.foot is not None:
        foot_rect = Rect(rail.w, view.h, view.w, foot)
        _put(m, node.foot, foot_rect, foot_rect, out)
    return Layout(tuple(out), view, height)


def _put_rail(
    m: Measure, given: tuple[Any, ...], narrow: bool, room: Rect, rail: Rect, out: list[Placed]
) -> None:
    """Put the rail's nodes under each other; in a low window only its buttons, sharing the height."""
    shown = tuple(n for n in given if not (narrow and isinstance(n, nodes.Label)))
    if m.height(nodes.Stack(shown, gap=2), room.w) <= room.h:
        _put(m, nodes.Stack(shown, gap=2), room, rail, out)
        return
    buttons = [n for n in shown if isinstance(n, nodes.Button)]
    tall = min(room.h + m.px(24), rail.h - m.px(8)) // max(1, len(buttons))
    for place, button in enumerate(buttons):
        where = Rect(room.x, m.px(4) + place * tall, room.w, tall)
        out.append(Placed(button, where, rail))


def _place_dialog(m: Measure, node: nodes.Dialog, window: Rect, scroll: int) -> Layout:
    out: list[Placed] = []
    pad = m.px(24)
    width = min(m.px(node.width), window.w - 2 * m.px(16))
    height = m.height(node.body, width - 2 * pad) + 2 * pad
    shown = min(height, window.h - 2 * m.px(16))
    sheet = Rect((window.w - width) // 2, (window.h - shown) * 2 // 5, width, shown)
    scroll = max(0, min(scroll, height - shown))
    out.append(Placed(nodes.Stack((), ground="dialog"), sheet, window))
    _put(
        m,
        node.body,
        Rect(sheet.x + pad, sheet.y + pad - scroll, width - 2 * pad, height - 2 * pad),
        sheet,
        out,
    )
    return Layout(tuple(out), sheet, height)


def _put(m: Measure, node: Any, rect: Rect, clip: Rect, out: list[Placed]) -> None:
    if isinstance(node, nodes.Stack):
        if node.ground:
            out.append(Placed(nodes.Stack((), ground=node.ground), rect, clip))
        inner = rect.inflate(-2 * m.px(node.pad[0]), -2 * m.px(node.pad[1]))
        _put_down(m, node.children, m.px(node.gap), inner, clip, out)
    elif isinstance(node, nodes.Row):
        if m.folded(node, rect.w):
            _put_down(m, node.children, m.px(node.gap), rect, clip, out)
        else:
            _put_across(m, node, rect, clip, out)
    elif not isinstance(node, nodes.Gap):
        out.append(Placed(node, rect, clip))


def _put_down(
    m: Measure, children: Iterable[Any], gap: int, rect: Rect, clip: Rect, out: list[Placed]
) -> None:
    children = tuple(children)
    heights = [m.height(c, rect.w) for c in children]
    growing = [c for c in children if getattr(c, "grow", False)]
    spare = max(0, rect.h - sum(heights) - gap * max(0, len(children) - 1))
    each = spare // len(growing) if growing else 0
    y = rect.y
    for child, height in zip(children, heights, strict=True):
        tall = height + (each if getattr(child, "grow", False) else 0)
        _put(m, child, Rect(rect.x, y, _width_down(m, child, rect.w), tall), clip, out)
        y += tall + gap


def _width_down(m: Measure, child: Any, room: int) -> int:
    """Return the width of a node under others: buttons and the like keep their own, the rest fill."""
    own = isinstance(child, nodes.Button | nodes.Choice | nodes.Stepper)
    own = own or (isinstance(child, nodes.Field) and bool(child.width))
    if own and getattr(child, "kind", "") != "rail":
        return min(room, m.width(child))
    return room


def _put_across(m: Measure, node: nodes.Row, rect: Rect, clip: Rect, out: list[Placed]) -> None:
    x = rect.x
    for child, width in zip(node.children, m.split(node, rect.w), strict=True):
        height = rect.h if node.align == "fill" else m.height(child, width)
        y = rect.y
        if node.align == "middle":
            y += (rect.h - height) // 2
        elif node.align == "bottom":
            y += rect.h - height
        if getattr(child, "grow", False):
            y, height = rect.y, rect.h
        _put(m, child, Rect(x, y, width, height), clip, out)
        x += width + m.px(node.gap)


def field_box(m: Measure, node: nodes.Field, rect: Rect) -> Rect:
    """Return the box of a field inside the rectangle that also holds its label and its reason."""
    if node.compact:
        return Rect(rect.x, rect.y, rect.w, _field_box(m, node))
    return Rect(rect.x, rect.y + m.type.line_height("small") + m.px(3), rect.w, _field_box(m, node))


def control_box(m: Measure, node: Any, rect: Rect) -> Rect:
    """Return the box of a choice or stepper below its label."""
    label = m.type.line_height("small") + m.px(3) if node.label else 0
    return Rect(rect.x, rect.y + label, rect.w, rect.h - label)
