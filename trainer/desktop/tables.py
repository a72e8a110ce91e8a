"""A table's rows in their order, and its cursor: pure, and quick for thousands of rows."""

from collections import OrderedDict
from dataclasses import replace

from trainer.desktop.events import Key
from trainer.desktop.nodes import Line, Table
from trainer.desktop.ui import Memory

_sorted: "OrderedDict[tuple[int, int, bool], tuple[tuple[Line, ...], tuple[Line, ...]]]" = OrderedDict()


def order(table: Table, memory: Memory) -> tuple[int | None, bool]:
    """Return the column sorted by and whether downwards: chosen by hand, or else the table's own."""
    if memory.sorted_by_hand:
        return memory.sort, memory.descending
    return table.sort, table.descending


def lines(table: Table, memory: Memory) -> tuple[Line, ...]:
    """Return the rows in the order shown. Rows without a value (None) come last either way."""
    column, descending = order(table, memory)
    if column is None:
        return table.lines
    key = (id(table.lines), column, descending)
    found = _sorted.get(key)
    if found is not None and found[0] is table.lines:
        return found[1]

    def rank(line: Line) -> object:
        return line.sort[column] if line.sort else line.cells[column].casefold()

    known = [line for line in table.lines if rank(line) is not None]
    unknown = [line for line in table.lines if rank(line) is None]
    result = (*sorted(known, key=rank, reverse=descending), *unknown)  # type: ignore[arg-type]
    while len(_sorted) > 8:
        _sorted.popitem(last=False)
    _sorted[key] = (table.lines, result)
    return result


def settled(memory: Memory, rows: int, count: int) -> Memory:
    """Return the memory with cursor and top on rows that are there: a list may have become shorter."""
    top, cursor = max(0, min(memory.top, count - rows)), max(0, min(memory.cursor, count - 1))
    return memory if (top, cursor) == (memory.top, memory.cursor) else replace(memory, top=top, cursor=cursor)


def moved(table: Table, memory: Memory, event: Key, rows: int) -> Memory | None:
    """Return the memory after a key, `rows` being how many rows fit; None for a key without meaning."""
    last = len(table.lines) - 1
    steps = {"up": -1, "down": 1, "pageup": -rows, "pagedown": rows, "home": -last - 1, "end": last + 1}
    if event.name not in steps:
        return None
    cursor = max(0, min(last, memory.cursor + steps[event.name]))
    return shown(replace(memory, cursor=cursor), rows, len(table.lines))


def shown(memory: Memory, rows: int, count: int) -> Memory:
    """Return the memory scrolled so that the cursor's row is in sight."""
    top = min(max(memory.top, memory.cursor - rows + 1), memory.cursor)
    return replace(memory, top=max(0, min(top, count - rows)))


def scrolled(memory: Memory, steps: int, rows: int, count: int) -> Memory:
    """Return the memory with its rows moved, the cursor staying where it is."""
    return replace(memory, top=max(0, min(memory.top + steps, count - rows)))


def resorted(table: Table, memory: Memory, column: int) -> Memory:
    """Return the memory sorted by a column; the same column again turns the order round."""
    now, descending = order(table, memory)
    down = not descending if now == column else False
    return replace(memory, sort=column, descending=down, sorted_by_hand=True, cursor=0, top=0)
