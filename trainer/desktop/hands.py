"""What responding to an event needs, and the focus: who has it, who gets it, what is remembered."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

from trainer.desktop import nodes
from trainer.desktop.layout import Layout, Placed
from trainer.desktop.look import ROW
from trainer.desktop.measure import Measure
from trainer.desktop.messages import Edited, Message
from trainer.desktop.ui import Memory, Ui

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


def after_edit(ui: Ui, placed: Placed, edited: tuple[str, Memory], at_s: float) -> Answer:
    text, memory = edited
    if getattr(placed.node, "secret", False):
        memory = replace(memory, undo=(), redo=())  # a passphrase is kept nowhere
    ui = remember(ui, placed.key, memory)
    return ui, ((Edited(placed.key, text, at_s),) if text != placed.node.value else ())


def column_widths(table: nodes.Table, width: int) -> list[int]:
    """Return the widths of a table's columns, in pixels."""
    total = sum(c.share for c in table.columns)
    edges = [0.0]
    for column in table.columns:
        edges.append(edges[-1] + width * column.share / total)
    return [round(b) - round(a) for a, b in pairwise(edges)]


def scrolled(ui: Ui, hands: Hands, change: int) -> Ui:
    """Return the page's state with its body moved."""
    most = max(0, hands.layout.scroll_height - hands.layout.scroll_rect.h)
    return replace(ui, scroll=max(0, min(most, ui.scroll + change)))
