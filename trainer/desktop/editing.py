"""Editing a line of text: pure functions from (text, memory) to (text, memory)."""

from dataclasses import replace

from trainer.desktop.events import Key
from trainer.desktop.fonts import clean
from trainer.desktop.ui import Memory

UNDO_KEPT = 200
PASTE_LOOKED_AT = 10_000  # characters of a paste that are looked at; a megabyte must not stop the window


def selection(text: str, memory: Memory) -> tuple[int, int]:
    """Return start and end of what is selected; equal when nothing is."""
    caret, anchor = min(memory.caret, len(text)), min(memory.anchor, len(text))
    return min(caret, anchor), max(caret, anchor)


def insert(text: str, memory: Memory, new: str, longest: int) -> tuple[str, Memory]:
    """Put text in place of the selection, as much of it as the longest text allows."""
    start, end = selection(text, memory)
    room = longest - (len(text) - (end - start))
    new = clean(new[:PASTE_LOOKED_AT])[: max(0, room)]
    return _changed(text, memory, text[:start] + new + text[end:], start + len(new))


def is_cut(new: str, kept: int) -> bool:
    """Return whether less of a text went in than there is of it, signs that no field takes left out."""
    return len(new) > PASTE_LOOKED_AT or kept < len(clean(new))


def _changed(text: str, memory: Memory, after: str, caret: int) -> tuple[str, Memory]:
    if after == text:
        return text, replace(memory, caret=caret, anchor=caret)
    undo = (*memory.undo, (text, min(memory.caret, len(text))))[-UNDO_KEPT:]
    return after, replace(memory, caret=caret, anchor=caret, undo=undo, redo=())


def undone(text: str, memory: Memory) -> tuple[str, Memory]:
    """Take the last change back."""
    if not memory.undo:
        return text, memory
    before, caret = memory.undo[-1]
    redo = (*memory.redo, (text, memory.caret))
    return before, replace(memory, caret=caret, anchor=caret, undo=memory.undo[:-1], redo=redo)


def redone(text: str, memory: Memory) -> tuple[str, Memory]:
    """Make the change again that was last taken back."""
    if not memory.redo:
        return text, memory
    after, caret = memory.redo[-1]
    undo = (*memory.undo, (text, memory.caret))
    return after, replace(memory, caret=caret, anchor=caret, undo=undo, redo=memory.redo[:-1])


def key(text: str, memory: Memory, event: Key) -> tuple[str, Memory] | None:
    """Return text and memory after a key, or None when the key means nothing to a line of text."""
    caret = min(memory.caret, len(text))
    start, end = selection(text, memory)
    match event.name:
        case "left" | "right":
            return text, _moved(text, memory, event, caret, start, end)
        case "home":
            return text, replace(memory, caret=0, anchor=min(memory.anchor, len(text)) if event.shift else 0)
        case "end":
            n = len(text)
            return text, replace(memory, caret=n, anchor=min(memory.anchor, n) if event.shift else n)
        case "backspace":
            if start == end:
                start = _word(text, caret, -1) if event.ctrl else max(0, caret - 1)
            return _changed(text, memory, text[:start] + text[end:], start)
        case "delete":
            if start == end:
                end = _word(text, caret, 1) if event.ctrl else min(len(text), caret + 1)
            return _changed(text, memory, text[:start] + text[end:], start)
        case "a" if event.ctrl:
            return text, replace(memory, caret=len(text), anchor=0)
        case "z" if event.ctrl:
            return redone(text, memory) if event.shift else undone(text, memory)
        case "y" if event.ctrl:
            return redone(text, memory)
    return None


def _moved(text: str, memory: Memory, event: Key, caret: int, start: int, end: int) -> Memory:
    step = -1 if event.name == "left" else 1
    if start != end and not event.shift:
        to = start if step < 0 else end
    else:
        to = _word(text, caret, step) if event.ctrl else max(0, min(len(text), caret + step))
    return replace(memory, caret=to, anchor=min(memory.anchor, len(text)) if event.shift else to)


def _word(text: str, caret: int, step: int) -> int:
    at = caret
    while 0 <= at + min(step, 0) < len(text) and text[at + min(step, 0)].isspace():
        at += step
    while 0 <= at + min(step, 0) < len(text) and not text[at + min(step, 0)].isspace():
        at += step
    return max(0, min(len(text), at))
