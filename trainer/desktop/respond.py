"""The one focus manager: an event and a page laid out -> the page's new focus and memory, and messages.

Only the event's own data count; the state of mouse and keyboard is never asked for.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from trainer.desktop import editing, events, fields, nodes, plots, tables
from trainer.desktop.events import Key, PointerDown, PointerMoved, PointerUp, Typed, Wheel
from trainer.desktop.layout import Layout, Measure, Placed, control_box, field_box
from trainer.desktop.look import ROW
from trainer.desktop.messages import Back, Edited, Entered, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Memory, Ui

Answer = tuple[Ui, tuple[Message, ...]]


@dataclass(frozen=True, slots=True)
class Clipboard:
    """How text leaves for and comes from other programs; handed in."""

    read: Callable[[], str] = lambda: ""
    write: Callable[[str], None] = lambda text: None


@dataclass(frozen=True, slots=True)
class Hands:
    """What responding needs beside the event: the page as laid out, the type, the clipboard."""

    layout: Layout
    measure: Measure
    clipboard: Clipboard

    def rows(self, placed: Placed) -> int:
        """Return how many rows of a table fit below its heading."""
        return max(1, (placed.rect.h - self.measure.px(ROW)) // self.measure.px(ROW))


def memory_of(ui: Ui, placed: Placed) -> Memory:
    """Return what is remembered about a widget; at first a field's caret is at its end."""
    if placed.key in ui.memory:
        return ui.memory[placed.key]
    if isinstance(placed.node, nodes.Field):
        return Memory(caret=len(placed.node.value), anchor=len(placed.node.value))
    return Memory()


def remember(ui: Ui, key: str, memory: Memory) -> Ui:
    """Return the page's state with new memory of one widget."""
    return replace(ui, memory={**ui.memory, key: memory})


def focus_on(ui: Ui, hands: Hands, key: str, by_keyboard: bool = True) -> Ui:
    """Move the focus and bring its widget into sight; a field reached by keyboard is wholly selected."""
    placed = hands.layout.find(key)
    if placed is None:
        return ui
    ui = replace(ui, focus=key, by_keyboard=by_keyboard, scroll=_in_sight(ui.scroll, hands.layout, placed))
    if isinstance(placed.node, nodes.Field) and by_keyboard:
        ui = remember(ui, key, replace(memory_of(ui, placed), caret=len(placed.node.value), anchor=0))
    return ui


def _in_sight(scroll: int, layout: Layout, placed: Placed) -> int:
    view = layout.scroll_rect
    if placed.clip != view or layout.scroll_height <= view.h:
        return scroll
    margin = min(24, view.h // 8)
    if placed.rect.top < view.top + margin:
        scroll -= view.top + margin - placed.rect.top
    elif placed.rect.bottom > view.bottom - margin:
        scroll += min(placed.rect.bottom - view.bottom + margin, placed.rect.top - view.top)
    return max(0, min(scroll, layout.scroll_height - view.h))


def respond(ui: Ui, hands: Hands, event: events.Event) -> Answer:
    """Return the page's state after an event and what its screen has to be told."""
    match event:
        case Key():
            return _key(ui, hands, event)
        case Typed():
            return _typed(ui, hands, event)
        case PointerDown():
            return _down(ui, hands, event)
        case PointerUp():
            return _up(ui, hands, event)
        case PointerMoved():
            return _moved(ui, hands, event)
        case Wheel():
            return _wheel(ui, hands, event)
        case events.Tick() | events.FocusLost() | events.FocusGained() | events.Arrived() | events.Refused():
            return ui, (event,)
    return ui, ()


def _key(ui: Ui, hands: Hands, event: Key) -> Answer:
    placed = hands.layout.find(ui.focus)
    if event.name == "tab" and not event.ctrl and not event.alt:
        return _tab(ui, hands, -1 if event.shift else 1), ()
    if event.name == "escape":
        return (ui, ()) if event.repeat else (ui, (Back(event.at_s),))
    if placed is not None and getattr(placed.node, "enabled", True):
        found = _WIDGET_KEYS[type(placed.node)](ui, hands, placed, event)
        if found is not None:
            return found
    if event.name in ("pageup", "pagedown") and hands.layout.scroll_height > hands.layout.scroll_rect.h:
        step = hands.layout.scroll_rect.h * 4 // 5
        return _scrolled(ui, hands, step if event.name == "pagedown" else -step), ()
    if event.name in ("up", "down", "left", "right") and placed is not None:
        return _neighbour(ui, hands, placed, event.name), ()
    return ui, (event,)


def _tab(ui: Ui, hands: Hands, step: int) -> Ui:
    keys = [p.key for p in hands.layout.focusable]
    if not keys:
        return ui
    at = keys.index(ui.focus) + step if ui.focus in keys else (0 if step > 0 else -1)
    return focus_on(ui, hands, keys[at % len(keys)])


def _neighbour(ui: Ui, hands: Hands, placed: Placed, way: str) -> Ui:
    """Move the focus to the nearest button that lies in the arrow's direction."""
    if not isinstance(placed.node, nodes.Button):
        return ui
    here = placed.rect
    best: tuple[int, str] | None = None
    for other in hands.layout.focusable:
        if other.key == placed.key or not isinstance(other.node, nodes.Button):
            continue
        dx, dy = other.rect.centerx - here.centerx, other.rect.centery - here.centery
        ahead, aside = {"left": (-dx, dy), "right": (dx, dy), "up": (-dy, dx), "down": (dy, dx)}[way]
        overlap = other.rect.top < here.bottom and here.top < other.rect.bottom
        if way in ("up", "down"):
            overlap = other.rect.left < here.right and here.left < other.rect.right
        if ahead > 0 and overlap and (best is None or ahead + abs(aside) < best[0]):
            best = (ahead + abs(aside), other.key)
    return focus_on(ui, hands, best[1]) if best else ui


def _button_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    if event.name in ("enter", "space"):
        if event.repeat:
            return ui, ()
        return replace(ui, by_keyboard=True), (Pressed(placed.key, event.at_s),)
    return None


def _field_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    text, memory = placed.node.value, memory_of(ui, placed)
    if event.name == "enter":
        return ui, (() if event.repeat else (Entered(placed.key, event.at_s),))
    if event.ctrl and event.name in ("c", "x", "v"):
        return _clip(ui, hands, placed, event)
    edited = editing.key(text, memory, event)
    if edited is None:
        return (ui, ()) if event.name == "space" else None
    return _after_edit(ui, placed, edited, event.at_s)


def _after_edit(ui: Ui, placed: Placed, edited: tuple[str, Memory], at_s: float) -> Answer:
    text, memory = edited
    ui = remember(ui, placed.key, memory)
    return ui, ((Edited(placed.key, text, at_s),) if text != placed.node.value else ())


def _clip(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer:
    text, memory = placed.node.value, memory_of(ui, placed)
    start, end = editing.selection(text, memory)
    if event.name == "v":
        new = hands.clipboard.read()
        return _after_edit(ui, placed, editing.insert(text, memory, new, placed.node.longest), event.at_s)
    if start != end:
        hands.clipboard.write(text[start:end])
        if event.name == "x":
            return _after_edit(ui, placed, editing.insert(text, memory, "", placed.node.longest), event.at_s)
    return ui, ()


def _choice_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    if event.name not in ("left", "right", "up", "down", "home", "end"):
        return None
    values = [value for value, _ in placed.node.options]
    at = values.index(placed.node.value) if placed.node.value in values else 0
    to = {"left": at - 1, "up": at - 1, "home": 0, "end": len(values) - 1}.get(event.name, at + 1)
    value = values[max(0, min(len(values) - 1, to))]
    return ui, ((Edited(placed.key, value, event.at_s),) if value != placed.node.value else ())


def _toggle_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    if event.name in ("enter", "space"):
        return ui, (() if event.repeat else (Edited(placed.key, not placed.node.on, event.at_s),))
    return None


def stepped(node: nodes.Stepper, steps: float) -> float:
    """Return a stepper's value some steps on, on its grid and within its limits."""
    value = round((node.value + steps * node.step) / node.step) * node.step
    return round(max(node.low, min(node.high, value)), 9)


def _stepper_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    steps = {"left": -1, "down": -1, "right": 1, "up": 1, "pagedown": -10, "pageup": 10}.get(event.name)
    if steps is None:
        return None
    value = stepped(placed.node, steps)
    return ui, ((Edited(placed.key, value, event.at_s),) if value != placed.node.value else ())


def _table_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    table, memory = placed.node, memory_of(ui, placed)
    shown = tables.lines(table, memory)
    if event.name in ("enter", "space") and shown:
        row = shown[min(memory.cursor, len(shown) - 1)].key
        return ui, (() if event.repeat else (Opened(placed.key, row, event.at_s),))
    if event.name in ("left", "right"):
        now, _ = tables.order(table, memory)
        step = -1 if event.name == "left" else 1
        column = (0 if now is None else now + step) % len(table.columns)
        return _table_at(remember(ui, placed.key, tables.resorted(table, memory, column)), placed)
    moved = tables.moved(table, memory, event, hands.rows(placed))
    return None if moved is None else _table_at(remember(ui, placed.key, moved), placed)


def _table_at(ui: Ui, placed: Placed) -> Answer:
    shown, memory = tables.lines(placed.node, memory_of(ui, placed)), memory_of(ui, placed)
    if not shown:
        return ui, ()
    return ui, (Pointed(placed.key, shown[min(memory.cursor, len(shown) - 1)].key),)


def _plot_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    points = plots.walk(placed.node)
    if not points:
        return None
    memory = memory_of(ui, placed)
    at = min(memory.cursor, len(points) - 1)
    if event.name in ("enter", "space"):
        key = points[at][3]
        return ui, ((Opened(placed.key, key, event.at_s),) if key and not event.repeat else ())
    to = {"left": at - 1, "right": at + 1, "home": 0, "end": len(points) - 1}.get(event.name)
    if to is None:
        return None
    return remember(ui, placed.key, replace(memory, cursor=max(0, min(len(points) - 1, to)))), ()


def _ruler_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    step = 10.0 if event.shift else 0.25 if event.ctrl else 1.0
    change = {"left": -step, "right": step, "down": -step, "up": step}.get(event.name)
    return None if change is None else (ui, (Edited(placed.key, placed.node.width_px + change, event.at_s),))


def _picture_key(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer | None:
    """Turn the thimble: a tenth at a time, with Shift a division, with Ctrl a tenth of a tenth."""
    if event.name == "enter":
        return ui, (() if event.repeat else (Entered(placed.key, event.at_s),))
    step = 10.0 if event.shift else 0.1 if event.ctrl else 1.0
    steps = {"left": -1, "down": -1, "right": 1, "up": 1, "pagedown": -50, "pageup": 50}.get(event.name)
    return None if steps is None else (ui, (Edited(placed.key, steps * step, event.at_s),))


_WIDGET_KEYS: dict[type, Callable[[Ui, Hands, Placed, Key], Answer | None]] = {
    nodes.Button: _button_key,
    nodes.Field: _field_key,
    nodes.Choice: _choice_key,
    nodes.Toggle: _toggle_key,
    nodes.Stepper: _stepper_key,
    nodes.Table: _table_key,
    nodes.Plot: _plot_key,
    nodes.Ruler: _ruler_key,
    nodes.Picture: _picture_key,
}


def _typed(ui: Ui, hands: Hands, event: Typed) -> Answer:
    placed = hands.layout.find(ui.focus)
    if placed is None or not isinstance(placed.node, nodes.Field) or not placed.node.enabled:
        return ui, ()
    edited = editing.insert(placed.node.value, memory_of(ui, placed), event.text, placed.node.longest)
    return _after_edit(ui, placed, edited, event.at_s)


def _scrolled(ui: Ui, hands: Hands, change: int) -> Ui:
    most = max(0, hands.layout.scroll_height - hands.layout.scroll_rect.h)
    return replace(ui, scroll=max(0, min(most, ui.scroll + change)))


def _wheel(ui: Ui, hands: Hands, event: Wheel) -> Answer:
    placed = hands.layout.at(event.x, event.y)
    steps = round(-event.steps * 3) or (-1 if event.steps > 0 else 1)
    if placed is not None and isinstance(placed.node, nodes.Table):
        memory, rows = memory_of(ui, placed), hands.rows(placed)
        moved = tables.scrolled(memory, steps, rows, len(placed.node.lines))
        if moved.top != memory.top:
            return remember(ui, placed.key, moved), ()
    if placed is not None and isinstance(placed.node, nodes.Picture):
        return ui, (Edited(placed.key, 1.0 if event.steps > 0 else -1.0, event.at_s),)
    if placed is not None and isinstance(placed.node, nodes.Stepper) and ui.focus == placed.key:
        return ui, (Edited(placed.key, stepped(placed.node, 1 if event.steps > 0 else -1), event.at_s),)
    return _scrolled(ui, hands, steps * hands.measure.px(18)), ()


def _down(ui: Ui, hands: Hands, event: PointerDown) -> Answer:
    ui = replace(ui, pointer=(event.x, event.y))
    placed = hands.layout.at(event.x, event.y)
    if event.button != 1 or placed is None or not getattr(placed.node, "enabled", True):
        return replace(ui, pressed=""), ()
    if isinstance(placed.node, nodes.FOCUSABLE):
        ui = replace(ui, focus=placed.key, pressed=placed.key, by_keyboard=False)
    match placed.node:
        case nodes.Field():
            return _field_down(ui, hands, placed, event), ()
        case nodes.Table():
            return _table_down(ui, hands, placed, event)
        case nodes.Choice():
            box = control_box(hands.measure, placed.node, placed.rect)
            at = (event.x - box.x) * len(placed.node.options) // max(1, box.w)
            value = placed.node.options[max(0, min(len(placed.node.options) - 1, at))][0]
            return ui, ((Edited(placed.key, value, event.at_s),) if value != placed.node.value else ())
        case nodes.Stepper():
            box = control_box(hands.measure, placed.node, placed.rect)
            side = -1 if event.x < box.x + box.h else 1 if event.x >= box.right - box.h else 0
            to = stepped(placed.node, side)
            return ui, ((Edited(placed.key, to, event.at_s),) if to != placed.node.value else ())
        case nodes.Plot():
            return _plot_down(ui, hands, placed, event)
    return ui, ()


def _field_down(ui: Ui, hands: Hands, placed: Placed, event: PointerDown) -> Ui:
    memory = memory_of(ui, placed)
    if event.clicks >= 2:
        return remember(ui, placed.key, replace(memory, caret=len(placed.node.value), anchor=0))
    box = field_box(hands.measure, placed.node, placed.rect)
    caret = fields.caret_at(hands.measure, placed.node, box, memory, event.x)
    return remember(
        ui, placed.key, replace(memory, caret=caret, anchor=memory.anchor if event.shift else caret)
    )


def _table_down(ui: Ui, hands: Hands, placed: Placed, event: PointerDown) -> Answer:
    table, memory = placed.node, memory_of(ui, placed)
    row_px = hands.measure.px(ROW)
    if event.y < placed.rect.y + row_px:
        widths = column_widths(table, placed.rect.w)
        along, column = event.x - placed.rect.x, 0
        while column < len(widths) - 1 and along >= widths[column]:
            along -= widths[column]
            column += 1
        return _table_at(remember(ui, placed.key, tables.resorted(table, memory, column)), placed)
    row = memory.top + (event.y - placed.rect.y - row_px) // row_px
    if row >= len(table.lines):
        return ui, ()
    ui = remember(ui, placed.key, replace(memory, cursor=row))
    ui, told = _table_at(ui, placed)
    if event.clicks >= 2:
        told = (*told, Opened(placed.key, tables.lines(table, memory)[row].key, event.at_s))
    return ui, told


def column_widths(table: nodes.Table, width: int) -> list[int]:
    """Return the widths of a table's columns, in pixels."""
    total = sum(c.share for c in table.columns)
    edges = [0.0]
    for column in table.columns:
        edges.append(edges[-1] + width * column.share / total)
    return [round(b) - round(a) for a, b in pairwise(edges)]


def _plot_down(ui: Ui, hands: Hands, placed: Placed, event: PointerDown) -> Answer:
    at = plots.nearest(placed.node, placed.rect, hands.measure, event.x, event.y)
    if at is None:
        return ui, ()
    ui = remember(ui, placed.key, replace(memory_of(ui, placed), cursor=at))
    key = plots.walk(placed.node)[at][3]
    return ui, ((Opened(placed.key, key, event.at_s),) if key and event.clicks >= 2 else ())


def _up(ui: Ui, hands: Hands, event: PointerUp) -> Answer:
    placed = hands.layout.at(event.x, event.y)
    pressed, ui = ui.pressed, replace(ui, pressed="", pointer=(event.x, event.y))
    if event.button != 1 or placed is None or placed.key != pressed:
        return ui, ()
    node: Any = placed.node
    if isinstance(node, nodes.Button) and node.enabled:
        return ui, (Pressed(placed.key, event.at_s),)
    if isinstance(node, nodes.Toggle) and node.enabled:
        return ui, (Edited(placed.key, not node.on, event.at_s),)
    return ui, ()


def _moved(ui: Ui, hands: Hands, event: PointerMoved) -> Answer:
    placed = hands.layout.at(event.x, event.y)
    hover = placed.key if placed is not None else ""
    down_px = event.y - ui.pointer[1]
    ui = replace(ui, pointer=(event.x, event.y))
    if hover != ui.hover:
        ui = replace(ui, hover=hover, hover_since_s=event.at_s)
    held = hands.layout.find(ui.pressed) if event.held and ui.pressed else None
    if held is not None and isinstance(held.node, nodes.Picture) and down_px:
        return ui, (Edited(held.key, down_px * held.node.tenths_per_px, event.at_s),)
    if held is not None and isinstance(held.node, nodes.Field):
        memory = memory_of(ui, held)
        box = field_box(hands.measure, held.node, held.rect)
        caret = fields.caret_at(hands.measure, held.node, box, memory, event.x)
        return remember(ui, held.key, replace(memory, caret=caret)), ()
    if placed is not None and isinstance(placed.node, nodes.Plot):
        at = plots.nearest(placed.node, placed.rect, hands.measure, event.x, event.y)
        if at is not None and at != memory_of(ui, placed).cursor:
            return remember(ui, placed.key, replace(memory_of(ui, placed), cursor=at)), ()
    return ui, ()
