"""From a node to rectangles, by its measures. Pure but for the type that measures text."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from pygame import Rect

from trainer.desktop import look, nodes
from trainer.desktop.fonts import Type
from trainer.desktop.measure import Measure


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
