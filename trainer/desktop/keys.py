"""What keys do: Tab and Esc everywhere, the rest by the widget that has the focus."""

from collections.abc import Callable
from dataclasses import replace

from trainer.desktop import editing, nodes, plots, tables
from trainer.desktop.events import Key
from trainer.desktop.hands import Answer, Hands, after_edit, focus_on, memory_of, remember, scrolled
from trainer.desktop.layout import Placed
from trainer.desktop.messages import Back, Edited, Entered, Opened, Pasted, Pointed, Pressed
from trainer.desktop.ui import Ui


def key(ui: Ui, hands: Hands, event: Key) -> Answer:
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
        return scrolled(ui, hands, step if event.name == "pagedown" else -step), ()
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
    return after_edit(ui, placed, edited, event.at_s)


def _clip(ui: Ui, hands: Hands, placed: Placed, event: Key) -> Answer:
    text, memory = placed.node.value, memory_of(ui, placed)
    start, end = editing.selection(text, memory)
    if event.name == "v":
        new = hands.clipboard.read()
        edited = editing.insert(text, memory, new, placed.node.longest)
        ui, told = after_edit(ui, placed, edited, event.at_s)
        kept = len(edited[0]) - (len(text) - (end - start))
        return ui, told if new and not editing.is_cut(new, kept) else (*told, Pasted(placed.key, kept))
    if start != end and not placed.node.secret:
        hands.clipboard.write(text[start:end])
        if event.name == "x":
            return after_edit(ui, placed, editing.insert(text, memory, "", placed.node.longest), event.at_s)
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
    table = placed.node
    memory = tables.settled(memory_of(ui, placed), hands.rows(placed), len(table.lines))
    shown = tables.lines(table, memory)
    if event.name in ("enter", "space") and shown:
        row = shown[min(memory.cursor, len(shown) - 1)].key
        return ui, (() if event.repeat else (Opened(placed.key, row, event.at_s),))
    if event.name in ("left", "right"):
        now, _ = tables.order(table, memory)
        step = -1 if event.name == "left" else 1
        column = (0 if now is None else now + step) % len(table.columns)
        return table_at(remember(ui, placed.key, tables.resorted(table, memory, column)), placed)
    moved = tables.moved(table, memory, event, hands.rows(placed))
    return None if moved is None else table_at(remember(ui, placed.key, moved), placed)


def table_at(ui: Ui, placed: Placed) -> Answer:
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
