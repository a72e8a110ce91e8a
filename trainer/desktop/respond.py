"""An event and a page laid out -> the page's new focus and memory, and messages for its screen.

Only the event's own data count; the state of mouse and keyboard is never asked for.
"""

from dataclasses import replace
from typing import Any

from trainer.desktop import editing, events, fields, keys, nodes, plots, tables
from trainer.desktop.events import Key, PointerDown, PointerMoved, PointerUp, Typed, Wheel
from trainer.desktop.hands import Answer, Hands, after_edit, column_widths, memory_of, remember, scrolled
from trainer.desktop.keys import stepped
from trainer.desktop.layout import Placed
from trainer.desktop.look import ROW
from trainer.desktop.measure import control_box, field_box
from trainer.desktop.messages import Edited, Opened, Pressed
from trainer.desktop.ui import Ui


def respond(ui: Ui, hands: Hands, event: events.Event) -> Answer:
    """Return the page's state after an event and what its screen has to be told."""
    match event:
        case Key():
            return keys.key(ui, hands, event)
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
        case events.Tick() | events.FocusLost() | events.FocusGained() | events.Minimised():
            return ui, (event,)
        case events.OnDisplay() | events.Resized() | events.Arrived() | events.Refused():
            return ui, (event,)
    return ui, ()


def _typed(ui: Ui, hands: Hands, event: Typed) -> Answer:
    placed = hands.layout.find(ui.focus)
    if placed is None or not isinstance(placed.node, nodes.Field) or not placed.node.enabled:
        return ui, ()
    edited = editing.insert(placed.node.value, memory_of(ui, placed), event.text, placed.node.longest)
    return after_edit(ui, placed, edited, event.at_s)


def _wheel(ui: Ui, hands: Hands, event: Wheel) -> Answer:
    placed = hands.layout.at(event.x, event.y)
    steps = round(-event.steps * 3) or (-1 if event.steps > 0 else 1)
    if placed is not None and isinstance(placed.node, nodes.Table):
        rows = hands.rows(placed)
        memory = tables.settled(memory_of(ui, placed), rows, len(placed.node.lines))
        moved = tables.scrolled(memory, steps, rows, len(placed.node.lines))
        if moved.top != memory.top:
            return remember(ui, placed.key, moved), ()
    if placed is not None and isinstance(placed.node, nodes.Picture):
        return ui, (Edited(placed.key, 1.0 if event.steps > 0 else -1.0, event.at_s),)
    if placed is not None and isinstance(placed.node, nodes.Stepper) and ui.focus == placed.key:
        return ui, (Edited(placed.key, stepped(placed.node, 1 if event.steps > 0 else -1), event.at_s),)
    return scrolled(ui, hands, steps * hands.measure.px(18)), ()


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
    table = placed.node
    memory = tables.settled(memory_of(ui, placed), hands.rows(placed), len(table.lines))
    row_px = hands.measure.px(ROW)
    if event.y < placed.rect.y + row_px:
        widths = column_widths(table, placed.rect.w)
        along, column = event.x - placed.rect.x, 0
        while column < len(widths) - 1 and along >= widths[column]:
            along -= widths[column]
            column += 1
        return keys.table_at(remember(ui, placed.key, tables.resorted(table, memory, column)), placed)
    row = memory.top + (event.y - placed.rect.y - row_px) // row_px
    if row >= len(table.lines):
        return ui, ()
    ui = remember(ui, placed.key, replace(memory, cursor=row))
    ui, told = keys.table_at(ui, placed)
    if event.clicks >= 2:
        told = (*told, Opened(placed.key, tables.lines(table, memory)[row].key, event.at_s))
    return ui, told


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
