"""What a page remembers beside its screen: focus, pointer, scroll, and each widget's caret or cursor."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Memory:
    """What a page remembers about a widget: caret and undo of a field, cursor of a table or plot."""

    caret: int = 0
    anchor: int = 0
    undo: tuple[tuple[str, int], ...] = ()
    redo: tuple[tuple[str, int], ...] = ()
    cursor: int = 0
    top: int = 0
    sort: int | None = None
    descending: bool = False
    sorted_by_hand: bool = False


@dataclass(frozen=True, slots=True)
class Ui:
    """Where a page's focus and pointer are; kept beside the screen, changed only by respond."""

    focus: str = ""
    hover: str = ""
    hover_since_s: float = 0.0
    pressed: str = ""
    by_keyboard: bool = False
    scroll: int = 0
    pointer: tuple[int, int] = (-1, -1)
    memory: Mapping[str, Memory] = field(default_factory=dict)
