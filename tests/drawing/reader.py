"""A reader of pictures: measures a micrometer's reading in the pixels, as a person would with a ruler.

It knows the instrument's sizes and the scale of the picture, nothing of the painter: pixel values are
turned to linear light, the share of light that ink takes away is found against the bare metal, and
lines are placed by the centre of that darkness. Pixel i covers [i, i + 1).
"""

import math
from dataclasses import dataclass

import numpy as np

from trainer.instrument.micrometer import Micrometer

EDGE_SHARE = 0.6  # the drawing contract: the thimble's edge stands at this share of the width


@dataclass(frozen=True)
class Found:
    """What was measured in a picture."""

    position_tenths: float
    index_y_px: float
    fraction_divisions: float
    edge_x_px: int
    sleeve_marks: int


def linear(picture: np.ndarray) -> np.ndarray:
    """Return the linear light of an 8-bit sRGB picture, the mean of its colours (IEC 61966-2-1)."""
    code = np.arange(256) / 255
    table = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return table[picture].mean(axis=2) if picture.ndim == 3 else table[picture]


def bare_metal(pictures) -> np.ndarray:
    """Return the light of the metal without ink: the brightest that each pixel is in several pictures.

    The pictures must differ in position so far that no pixel is inked in all of them.
    """
    brightest = None
    for picture in pictures:
        brightest = picture.copy() if brightest is None else np.maximum(brightest, picture)
    return linear(brightest)


def darkness(picture: np.ndarray, bare: np.ndarray | None) -> np.ndarray:
    """Return the share of light that ink takes from each pixel; without `bare` the metal is uniform."""
    light = linear(picture)
    if bare is None:
        values, counts = np.unique(light[light > 0.4], return_counts=True)
        bare = values[counts.argmax()]
    return np.clip(1 - light / bare, 0, 1)


def read(
    picture: np.ndarray,
    micrometer: Micrometer,
    px_per_mm: float,
    roll_deg: float = 0.0,
    bare: np.ndarray | None = None,
) -> Found:
    """Return the reading of a plain picture, or of a full one whose bare metal is given."""
    height, width = picture.shape[:2]
    edge = round(width * EDGE_SHARE) if bare is not None else found_edge(picture, micrometer, px_per_mm)
    dark = darkness(picture, bare)
    axis = height / 2
    index = index_row(linear(picture), dark, micrometer, px_per_mm, axis, edge, roll_deg)
    fraction = fraction_below_index(dark, micrometer, px_per_mm, axis, edge, index)
    travel_mm, count = travel_from_sleeve(dark, micrometer, px_per_mm, index, edge)
    whole = max(round(travel_mm / micrometer.division_mm - fraction), 0)
    return Found(10 * (whole + fraction), index, fraction, edge, count)


def found_edge(picture: np.ndarray, micrometer: Micrometer, px_per_mm: float) -> int:
    """Return the thimble's first column: where a plain instrument's outline steps out.

    Where the sleeve lies flush with the thimble's edge there is no step to see, and the contract's
    place is taken.
    """
    sizes = micrometer.sizes
    step_px = (sizes.thimble_edge_diameter_mm - sizes.sleeve_diameter_mm) / 2 * px_per_mm
    width = picture.shape[1]
    if step_px < 1:
        return round(width * EDGE_SHARE)
    light = linear(picture)
    ground, metal = light[0, 0], light.max()
    from_axis = sizes.sleeve_diameter_mm / 2 * px_per_mm + 0.5 + step_px * np.array([0.3, 0.5, 0.7])
    rows = np.floor(picture.shape[0] / 2 + np.concatenate((-from_axis, from_axis))).astype(int)
    outside = light[rows].max(axis=0) - ground > (metal - ground) / 2
    return int(np.flatnonzero(outside)[0])


def index_row(
    light: np.ndarray,
    dark: np.ndarray,
    micrometer: Micrometer,
    px_per_mm: float,
    axis: float,
    edge: int,
    roll_deg: float,
) -> float:
    """Return the row of the middle of the index line, from columns where no sleeve line crosses it.

    The metal under the line is taken to change evenly from the rows above to the rows below.
    """
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2 * px_per_mm
    expected = axis - radius * math.sin(math.radians(roll_deg))
    inked = np.flatnonzero(np.median(dark[:, :edge], axis=1) > 0.02)
    inked = inked[np.abs(inked + 0.5 - expected) < 0.35 * px_per_mm + 1]  # an eye off its place may shift it
    near = float(inked.mean()) + 0.5 if inked.size else expected
    half = micrometer.sizes.line_width_mm / 2 * px_per_mm + 1
    rows = slice(math.floor(near - half - 1), math.ceil(near + half + 1))
    above, below = slice(rows.start - 3, rows.start), slice(rows.stop, rows.stop + 3)
    beside = np.maximum(dark[above, :edge].mean(axis=0), dark[below, :edge].mean(axis=0))
    clear = np.flatnonzero(beside < 0.05)[-400:]
    centres = np.arange(rows.start, rows.stop) + 0.5
    top, bottom = light[above, clear].mean(axis=0), light[below, clear].mean(axis=0)
    share = ((centres - (rows.start - 1.5)) / (rows.stop - rows.start + 3))[:, None]
    weights = (1 - light[rows, clear] / (top + share * (bottom - top))).sum(axis=1)
    return float((weights * centres).sum() / weights.sum())


def fraction_below_index(
    dark: np.ndarray,
    micrometer: Micrometer,
    px_per_mm: float,
    axis: float,
    edge: int,
    index: float,
    skip_mm: float = 0.0,
) -> float:
    """Return how far the index line stands beyond the last graduation, in divisions, 0 to 1.

    `skip_mm` at either end of a graduation are left out: what defocus mixes with other things.
    """
    sizes = micrometer.sizes
    edge_radius = sizes.thimble_edge_diameter_mm / 2
    slope = (sizes.body_diameter_mm / 2 - edge_radius) / sizes.bevel_length_mm
    first = edge + math.ceil(skip_mm * px_per_mm)
    last = edge + max(2, int((0.85 * sizes.thimble_line_mm - skip_mm) * px_per_mm))
    columns = np.arange(first, last)
    radii = (edge_radius + slope * (columns + 0.5 - edge) / px_per_mm) * px_per_mm
    index_rad = math.asin((axis - index) / (edge_radius * px_per_mm))
    profile = dark[:, first : first + 2].sum(axis=1)
    around = round(index - 0.5)
    reach = math.ceil(1.1 * micrometer.division_arc_mm * px_per_mm)
    window = profile[around - reach : around + reach + 1]
    peak = around - reach + _centre_of_best(window, micrometer, px_per_mm, index - (around - reach))
    rough = math.asin((axis - peak) / radii[0])
    spread = 1.6 + skip_mm / 2 * px_per_mm
    angle = _line_angle(dark, columns, radii, axis, rough, micrometer, px_per_mm, spread)
    beyond = (index_rad - angle) * micrometer.direction / micrometer.division_rad
    return beyond % 1.0


def _centre_of_best(window: np.ndarray, micrometer: Micrometer, px_per_mm: float, wanted: float) -> float:
    """Return the centre of the graduation nearest to the index line, roughly, in rows of the window."""
    width = micrometer.sizes.line_width_mm * px_per_mm
    kernel = np.ones(max(1, round(width)))
    smooth = np.convolve(window, kernel, mode="same")
    peaks = [
        i
        for i in range(1, len(smooth) - 1)
        if smooth[i] > 0.5 * smooth.max() and smooth[i] >= smooth[i - 1] and smooth[i] > smooth[i + 1]
    ]
    best = min(peaks, key=lambda i: abs(i + 0.5 - wanted))
    half = math.ceil(width / 2 + 1.5)
    part = window[max(best - half, 0) : best + half + 1]
    return float((part * (np.arange(len(part)) + max(best - half, 0) + 0.5)).sum() / part.sum())


def _line_angle(dark, columns, radii, axis, angle, micrometer, px_per_mm, spread) -> float:
    """Return the angle of one graduation, the mean over its columns of the centre of darkness."""
    half = micrometer.sizes.line_width_mm / 2 * px_per_mm + spread
    half = min(half, 0.5 * micrometer.division_arc_mm * px_per_mm * math.cos(angle))
    angles = []
    for column, radius in zip(columns, radii, strict=True):
        middle = axis - radius * math.sin(angle)
        first, last = math.floor(middle - half), math.ceil(middle + half)
        weights = dark[first:last, column]
        centre = (weights * (np.arange(first, last) + 0.5)).sum() / weights.sum()
        angles.append(math.asin((axis - centre) / radius))
    return float(np.mean(angles))


def travel_from_sleeve(
    dark: np.ndarray, micrometer: Micrometer, px_per_mm: float, index: float, edge: int
) -> tuple[float, int]:
    """Return the travel that the sleeve shows, in mm, and how many of its lines are in view.

    On an outside micrometer that is the distance from the zero line to the edge; on a depth micrometer
    the last line of the scale is the one farthest from the edge. That line must be in the picture.
    """
    shortest = min(rule.length_mm for rule in micrometer.sleeve.rules)
    sides = {rule.side for rule in micrometer.sleeve.rules}
    half = micrometer.sizes.line_width_mm / 2 * px_per_mm
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2 * px_per_mm
    axis = dark.shape[0] / 2
    index_rad = math.asin((axis - index) / radius)
    last = 0 if micrometer.kind == "outside" else micrometer.sleeve_lines
    places, profiles = [], {}
    for side in sides:
        sign = 1 if side == "above" else -1
        end = axis - radius * math.sin(index_rad + sign * 0.8 * shortest * px_per_mm / radius)
        a, b = index - sign * (half + 2), end
        rows = slice(math.ceil(min(a, b)), max(math.floor(max(a, b)), math.ceil(min(a, b)) + 1))
        profiles[side] = dark[rows, :edge].mean(axis=0)
        places += _centres(profiles[side])
    farthest = (edge - min(places, default=edge)) / px_per_mm
    if farthest * px_per_mm < half + 1.2:  # the edge cuts the line: what is left of it says where it stands
        farthest = (
            _cut_line(
                profiles[micrometer.sleeve.rule_of(last).side][-math.ceil(2 * half + 3) :], half, dark.max()
            )
            / px_per_mm
        )
    travel = farthest if micrometer.kind == "outside" else micrometer.travel_mm - farthest
    return travel, len(places)


def _cut_line(profile: np.ndarray, half_px: float, full: float) -> float:
    """Return how far a line that the edge cuts stands to the left of it, in pixels, by least squares."""
    places = np.linspace(-half_px - 1, half_px + 1.3, 2000)
    columns = np.arange(-len(profile), 0) + 0.5
    low, high = -places[:, None] - half_px - columns, -places[:, None] + half_px - columns
    model = full * (_tent_integral(high) - _tent_integral(low))
    return float(places[((model - profile) ** 2).sum(axis=1).argmin()])


def _tent_integral(t: np.ndarray) -> np.ndarray:
    t = np.clip(t, -1, 1)
    return 0.5 + t - t * np.abs(t) / 2


def _centres(profile: np.ndarray) -> list[float]:
    """Return the centres of the dark runs of a profile, in columns."""
    inked = np.concatenate(([False], profile > 0.02, [False]))
    starts = np.flatnonzero(inked[1:] & ~inked[:-1])
    stops = np.flatnonzero(~inked[1:] & inked[:-1])
    centres = []
    for start, stop in zip(starts, stops, strict=True):
        if profile[start:stop].max() > 0.2:
            start, stop = max(start - 1, 0), min(stop + 1, len(profile))  # the tent's faint feet
            part = profile[start:stop]
            centres.append(float((part * (np.arange(start, stop) + 0.5)).sum() / part.sum()))
    return centres
