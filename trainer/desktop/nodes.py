"""What a screen is made of: widgets and the boxes that hold them, as plain values.

A screen's view returns one node; layout.place turns it into rectangles; paint draws them. Lengths are units.
A widget with a key can have the focus; its key names it in messages. Nodes are told apart by identity and are
made without comparison or text, since some thirty classes are built before the first picture.
"""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, eq=False, repr=False)
class Label:
    """Text. With `wrap` it fills its width over several lines, otherwise it ends in an ellipsis."""

    text: str
    style: str = "body"
    tone: str = "ink"
    align: str = "left"  # left, centre, right
    wrap: bool = True


@dataclass(frozen=True, eq=False, repr=False)
class Icon:
    """A picture from the icon set."""

    name: str
    size: float = 20
    tone: str = "soft"


@dataclass(frozen=True, eq=False, repr=False)
class Gap:
    """Empty space; with `grow` it takes what is left over."""

    size: float = 8
    grow: bool = False


@dataclass(frozen=True, eq=False, repr=False)
class Scaled:
    """A hairline with graduations below: the rule between a heading and its matter."""

    height: float = 9


@dataclass(frozen=True, eq=False, repr=False)
class Button:
    """Something to press. `kind`: main, plain, quiet, rail, keycap, link."""

    key: str
    text: str
    kind: str = "plain"
    icon: str = ""
    enabled: bool = True
    tip: str = ""
    chosen: bool = False
    width: float = 0


@dataclass(frozen=True, eq=False, repr=False)
class Field:
    """A line to type in, with its label above, its unit inside and the reason for a refusal below."""

    key: str
    label: str
    value: str
    unit: str = ""
    reason: str = ""
    hint: str = ""
    longest: int = 200
    style: str = "body"
    enabled: bool = True
    width: float = 0
    compact: bool = False  # no label line, no line below
    secret: bool = False  # shown as dots, never copied, without undo

    @property
    def seen(self) -> str:
        """The text as it is shown."""
        return "\N{BULLET}" * len(self.value) if self.secret else self.value


@dataclass(frozen=True, eq=False, repr=False)
class Choice:
    """One of a few."""

    key: str
    label: str
    options: tuple[tuple[str, str], ...]  # value, text
    value: str
    enabled: bool = True


@dataclass(frozen=True, eq=False, repr=False)
class Toggle:
    """Yes or no."""

    key: str
    label: str
    on: bool
    enabled: bool = True


@dataclass(frozen=True, eq=False, repr=False)
class Stepper:
    """A number moved in steps by keys, wheel or its two ends; Page Up and Page Down move ten steps."""

    key: str
    label: str
    value: float
    step: float
    low: float
    high: float
    decimals: int = 0
    unit: str = ""
    enabled: bool = True


@dataclass(frozen=True, eq=False, repr=False)
class Column:
    """A column of a table: its heading, its share of the width and which side its text keeps to."""

    title: str
    share: float = 1.0
    align: str = "left"


@dataclass(frozen=True, eq=False, repr=False)
class Line:
    """A row of a table: its key, its texts and what to sort by (the texts where empty)."""

    key: str
    cells: tuple[str, ...]
    sort: tuple[Any, ...] = ()


@dataclass(frozen=True, eq=False, repr=False)
class Table:
    """Rows that scroll, sort by a heading and are walked with the arrow keys."""

    key: str
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    empty: str = ""
    rows_shown: int = 6
    grow: bool = True
    sort: int | None = None
    descending: bool = False


@dataclass(frozen=True, eq=False, repr=False)
class Progress:
    """How far: a scale with one graduation an item, engraved up to here."""

    done: int
    of: int
    height: float = 14


@dataclass(frozen=True, eq=False, repr=False)
class Band:
    """A value with its interval on a scale, against limits: where it stands, in tenths."""

    value: float | None
    low: float | None
    high: float | None
    start: float
    end: float
    limits: tuple[float, ...] = ()
    height: float = 34


@dataclass(frozen=True, eq=False, repr=False)
class Series:
    """Points of a plot. Each: x, y, what it tells when pointed at, and the key it opens ("" for none)."""

    points: tuple[tuple[float, float, str, str], ...]
    shape: str = "dot"  # dot, ring, diamond, cross
    tone: str = "accent"
    joined: bool = False
    bars: tuple[tuple[float, float], ...] = ()  # low and high of each point
    columns: bool = False  # drawn as columns from zero
    across: tuple[tuple[float, float, float], ...] = ()  # of each point: low and high of x, and its spread


@dataclass(frozen=True, eq=False, repr=False)
class Plot:
    """A figure drawn in the window; its points are walked with the arrow keys."""

    key: str
    series: tuple[Series, ...]
    x_title: str
    y_title: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    x_ticks: tuple[tuple[float, str], ...]
    y_ticks: tuple[tuple[float, str], ...]
    bands: tuple[tuple[float, float], ...] = ()  # shaded stretches of y
    lines: tuple[tuple[float, str], ...] = ()  # horizontal lines with names
    height: float = 220
    empty: str = ""
    names: tuple[str, ...] = ()  # row names at the left, for plots by person


@dataclass(frozen=True, eq=False, repr=False)
class Picture:
    """An instrument drawn live by the calibrated painter. `spec` is a pictures.Shot.

    With a key its thimble can be turned: by arrow keys, wheel and drag; `tenths_per_px` is what a pixel of
    the drag is worth.
    """

    key: str
    spec: Any
    height: float = 120
    grow: bool = False
    tenths_per_px: float = 0.0


@dataclass(frozen=True, eq=False, repr=False)
class Ruler:
    """The calibration figure of the display set-up: an outline of so many pixels, with end marks."""

    key: str
    width_px: float
    height_px: float = 0.0


@dataclass(frozen=True, eq=False, repr=False)
class Offset:
    """Two upright hairlines, the lower one so many pixels to the right of the upper one."""

    offset_px: int
    height: float = 150


@dataclass(frozen=True, eq=False, repr=False)
class Stack:
    """Nodes under each other."""

    children: tuple[Any, ...]
    gap: float = 8
    pad: tuple[float, float] = (0, 0)  # left-right, top-bottom
    ground: str = ""  # sheet, brass, strip
    grow: bool = False
    width: float = 0
    height: float = 0  # a height of its own, whatever the children need


@dataclass(frozen=True, eq=False, repr=False)
class Row:
    """Nodes beside each other. `shares`: 0 for its own width, otherwise the share of what is left.

    Narrower than `fold` units, the children go under each other.
    """

    children: tuple[Any, ...]
    shares: tuple[float, ...] = ()
    gap: float = 8
    fold: float = 0
    align: str = "top"  # top, middle, bottom, fill


@dataclass(frozen=True, eq=False, repr=False)
class Frame:
    """A whole screen: the rail at the left, the matter beside it, scrolling where it is longer."""

    rail: tuple[Any, ...]
    body: Any
    foot: Any = None


@dataclass(frozen=True, eq=False, repr=False)
class Bare:
    """A whole screen without rail: the body owns the window above the strip."""

    body: Any
    strip: Any


@dataclass(frozen=True, eq=False, repr=False)
class Dialog:
    """A sheet in the middle of the window, over what waits behind it."""

    body: Any
    width: float = 460


Node = Any
FOCUSABLE = (Button, Field, Choice, Toggle, Stepper, Table, Plot, Ruler, Picture)
