"""The feedback picture: the interval between two graduations magnified and divided in ten.

To the left the instrument itself, painted as everywhere else; to the right a card laid against the
thimble with ten parts drawn between the two graduations. The truth is marked by a filled pointer and a
whole line, the answer by an open ring and a broken line, so that shape tells them apart without
colour. Texts are left to the window, at the anchors given.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import stripe
from trainer.drawing.light import Floats, decode, encode
from trainer.drawing.painter import Painter
from trainer.drawing.region import Pixels
from trainer.drawing.viewing import Viewing
from trainer.instrument.micrometer import State

SHOWN_TENTHS = 14.0  # the height of the picture: the interval and two tenths beyond either end
EDGE_SHARE, CARD_SHARE = 0.34, 0.56  # where the thimble and the card begin
CARD_CODE = (246, 245, 240)
TICK_CODE = (40, 44, 52)
TRUTH_CODE = (0, 92, 138)
ANSWER_CODE = (190, 74, 0)


@dataclass(frozen=True, slots=True)
class Anchor:
    """Where a text belongs: `what` is "tenth", "line-below", "line-above", "truth" or "answer".

    The text's left end and middle go to (x_px, y_px). `beyond` tells that an answer lies outside the
    picture and is shown at its rim.
    """

    what: str
    text: str
    x_px: float
    y_px: float
    beyond: bool = False


@dataclass(frozen=True, slots=True)
class Closeup:
    """The picture, uint8 of shape (height, width, 3), and where its texts belong."""

    picture: Pixels
    anchors: tuple[Anchor, ...]
    px_per_mm: float


def closeup(
    state: State,
    answer_tenths: float | None,
    size_px: tuple[int, int] = (560, 400),
    label_px: float = 24.0,
    plain: bool = False,
) -> Closeup:
    """Return the magnified interval in which an instrument's index line stands.

    `answer_tenths` is a position in tenths from the zero of the scale, like the truth, or None where
    nothing was answered. `label_px` is the height of a label: those of truth and answer keep so far
    apart.
    """
    frame = _frame(state, size_px)
    viewing = Viewing(frame.px_per_mm, plain=plain)
    painter = Painter(state.micrometer, state.faults, viewing, frame=frame)
    light = decode(np.arange(256))[painter.paint(state.position_tenths)].astype(np.float32)
    below = 10.0 * math.floor(state.shown_tenths / 10)
    card = _Card(light, frame, state, below)
    card.rule()
    marks = [("truth", state.shown_tenths)]
    if answer_tenths is not None:
        marks.append(("answer", answer_tenths))
    anchors = card.numbers(label_px) + card.mark(marks, label_px)
    picture = np.rint(encode(np.clip(light, 0, 1))).astype(np.uint8)
    return Closeup(picture, tuple(anchors), frame.px_per_mm)


def _frame(state: State, size_px: tuple[int, int]) -> Canvas:
    """Return a frame in which the interval stands in the middle and fills most of the height."""
    micrometer = state.micrometer
    width, height = size_px
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    tenth_rad = micrometer.division_rad / 10
    px_per_mm = height / (2 * radius * math.sin(SHOWN_TENTHS / 2 * tenth_rad))
    middle = 5 - state.shown_tenths % 10
    drop = px_per_mm * radius * math.sin(micrometer.direction * middle * tenth_rad)
    return Canvas(width, height, px_per_mm, 0.0, edge_share=EDGE_SHARE, drop_px=drop)


class _Card:
    """The card with ten parts, drawn into a picture of linear light."""

    def __init__(self, light: Floats, frame: Canvas, state: State, below: float) -> None:
        self.light, self.frame, self.state, self.below = light, frame, state, below
        self.left = round(CARD_SHARE * frame.width_px)
        self.line_px = max(1.5, frame.height_px / 260)

    def y_px(self, position_tenths: float) -> float:
        """Return the row at which a position of the thimble's scale stands at its edge."""
        micrometer = self.state.micrometer
        turn = (position_tenths - self.state.shown_tenths) / 10 * micrometer.division_rad
        turn = min(max(turn, -1.5), 1.5)
        return self.frame.y_px(micrometer.sizes.thimble_edge_diameter_mm / 2, micrometer.direction * turn)

    def rule(self) -> None:
        """Lay the card down and draw the ten parts, the whole graduations longest."""
        width = self.frame.width_px
        shade = 1 - 0.5 * np.exp(-np.arange(14, 0, -1) / 5.0)
        self.light[:, self.left - 14 : self.left] *= shade[None, :, None].astype(np.float32)
        self.light[:, self.left :] = decode(np.array(CARD_CODE)).astype(np.float32)
        for tenth in range(11):
            long = {0: 0.13, 10: 0.13, 5: 0.095}.get(tenth, 0.065)
            self._bar(self.below + tenth, self.left, self.left + round(long * width), TICK_CODE, 1.0)

    def numbers(self, label_px: float) -> list[Anchor]:
        """Return where the numbers of the ten parts and of the two graduations belong."""
        micrometer = self.state.micrometer
        at = self.left + 0.145 * self.frame.width_px
        number = round(self.below / 10) % micrometer.divisions
        after = (number + 1) % micrometer.divisions
        ends = self.y_px(self.below), self.y_px(self.below + 10)
        outward = math.copysign(0.8 * label_px, ends[0] - ends[1])
        return [
            Anchor("tenth", "0", at, ends[0]),
            Anchor("tenth", "5", at - 0.035 * self.frame.width_px, self.y_px(self.below + 5)),
            Anchor("tenth", "10", at, ends[1]),
            Anchor("line-below", str(number), self.left + 8.0, ends[0] + outward),
            Anchor("line-above", str(after), self.left + 8.0, ends[1] - outward),
        ]

    def mark(self, marks: list[tuple[str, float]], label_px: float) -> list[Anchor]:
        """Draw the marks of truth and answer; return where their labels belong."""
        anchors = []
        x = self.left + 0.215 * self.frame.width_px
        size = max(6.0, 0.021 * self.frame.height_px)
        for what, position in reversed(marks):  # the truth is drawn last, over the answer
            row = self.y_px(position)
            shown = min(max(row, 2 * size), self.frame.height_px - 2 * size)
            if what == "truth":
                self._bar(position, self.frame.edge_px, round(x), TRUTH_CODE, 1.3)
                self._pointer(x, shown, size)
            else:
                if shown == row:
                    self._bar(
                        position, self.frame.edge_px, round(x + 2.6 * size), ANSWER_CODE, 1.3, broken=True
                    )
                self._ring(x + 3.5 * size, shown, size)
            text = f"{position - self.below:.1f}"
            anchors.append(Anchor(what, text, x + 4.5 * size + 8, shown, shown != row))
        return _apart(anchors, label_px, self.frame.height_px)

    def _bar(
        self,
        position: float,
        left: int,
        right: int,
        code: tuple[int, int, int],
        weight: float,
        broken: bool = False,
    ) -> None:
        """Draw a level line at a position, whole or broken."""
        row, half = self.y_px(position), weight * self.line_px / 2
        top = math.floor(row - half) - 1
        bottom = math.ceil(row + half) + 1
        if bottom <= 0 or top >= self.frame.height_px or right <= left:
            return
        covered = stripe(row - half, row + half, top, bottom - top)[:, None]
        columns = np.arange(left, right)
        if broken:
            covered = covered * (((columns - left) % 14) < 8)[None, :]
        else:
            covered = np.repeat(covered, columns.size, axis=1)
        first, last = max(top, 0), min(bottom, self.frame.height_px)
        self._blend(slice(first, last), slice(left, right), covered[first - top : last - top], code)

    def _pointer(self, x: float, y: float, size: float) -> None:
        """Draw the filled pointer of the truth, its tip to the left."""
        across, down = self._grid(x, y, size)
        slope = 0.6
        inside = np.minimum(slope * across[None, :] - np.abs(down)[:, None], 2 * size - across[None, :])
        self._place(x, y, size, np.clip(inside + 0.5, 0, 1), TRUTH_CODE)

    def _ring(self, x: float, y: float, size: float) -> None:
        """Draw the open ring of the answer."""
        across, down = self._grid(x, y, size)
        out = np.hypot(across[None, :], down[:, None])
        ring = self.line_px * 0.8 - np.abs(out - 0.85 * size)
        self._place(x, y, size, np.clip(ring + 0.5, 0, 1), ANSWER_CODE)

    def _grid(self, x: float, y: float, size: float) -> tuple[NDArray[np.floating], NDArray[np.floating]]:
        """Return the distances of pixel centres from a point, over a square round it."""
        reach = math.ceil(2.2 * size)
        across = np.arange(-reach, reach) + math.floor(x) + 0.5 - x
        down = np.arange(-reach, reach) + math.floor(y) + 0.5 - y
        return across, down

    def _place(
        self, x: float, y: float, size: float, covered: NDArray[np.floating], code: tuple[int, int, int]
    ) -> None:
        reach = math.ceil(2.2 * size)
        top, left = math.floor(y) - reach, math.floor(x) - reach
        rows = slice(max(top, 0), min(top + 2 * reach, self.frame.height_px))
        columns = slice(max(left, 0), min(left + 2 * reach, self.frame.width_px))
        part = covered[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
        self._blend(rows, columns, part.astype(np.float32), code)

    def _blend(self, rows: slice, columns: slice, covered: Floats, code: tuple[int, int, int]) -> None:
        colour = decode(np.array(code)).astype(np.float32)
        part = self.light[rows, columns]
        part += (colour - part) * covered[:, :, None]


def _apart(anchors: list[Anchor], label_px: float, height_px: int) -> list[Anchor]:
    """Return the labels of truth and answer moved so far apart that they do not lie on each other."""
    if len(anchors) < 2:
        return anchors
    first, second = sorted(anchors, key=lambda anchor: anchor.y_px)
    lack = label_px - (second.y_px - first.y_px)
    if lack > 0:
        up = min(lack / 2, max(first.y_px - label_px / 2, 0))
        first = _moved(first, -up)
        second = _moved(second, min(lack - up, height_px - label_px / 2 - second.y_px))
    return [anchor for what in ("truth", "answer") for anchor in (first, second) if anchor.what == what]


def _moved(anchor: Anchor, down_px: float) -> Anchor:
    return Anchor(anchor.what, anchor.text, anchor.x_px, anchor.y_px + down_px, anchor.beyond)
