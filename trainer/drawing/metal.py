"""The bare instrument in linear light: satin metal turned on a lathe, before a dark ground.

Everything is a surface of revolution seen from the front. Its light is what a satin mirror shows of
one set of lamps, so that the highlight runs through sleeve and body and jumps at the bevel. Nothing
here is random from one picture to the next, and nothing carries a reading.
"""

import itertools
from dataclasses import dataclass
from functools import cache

import numpy as np

from trainer.drawing.canvas import Canvas
from trainer.drawing.layout import Cone, cone
from trainer.drawing.light import Floats, decode
from trainer.instrument.micrometer import Micrometer

PLAIN_METAL = float(decode(232.0))
PLAIN_GROUND = float(decode(88.0))

AMBIENT = 0.085
LAMPS = (  # strength, from and to (degrees in the mirror direction, up is negative), softness
    (0.36, -104.0, 66.0, 30.0),
    (0.36, -74.0, 14.0, 26.0),
    (0.12, 96.0, 165.0, 12.0),
)
BEVEL_TILT_DEG = 15.0  # the bevel leans towards the lamp above the bench
GRAIN, STREAKS = 0.011, 0.016  # relative spread of light
KNURL_PITCH_MM = 0.95
KNURL_TILT_DEG = 17.0
GROOVE_MM = 0.28
GRIP_MM, BAND_MM = 15.5, 2.4  # length of the knurl and of the plain end of the thimble
RATCHET_RADIUS, RATCHET_MM = 0.56, 9.0  # share of the body's radius; length


@dataclass(frozen=True, slots=True)
class Metal:
    """Luminance of the bare instrument and how much of each pixel it fills, both (height, width)."""

    light: Floats
    filled: Floats


@cache
def _mirror_table() -> Floats:
    """Return the light of the lamps over mirror directions from -360 to 360 degrees, 8 steps a degree."""
    direction = np.linspace(-360, 360, 8 * 720 + 1)
    light = np.full_like(direction, AMBIENT)
    for strength, low, high, soft in LAMPS:
        light += strength * 0.5 * (np.tanh((direction - low) / soft) - np.tanh((direction - high) / soft))
    return light.astype(np.float32)


def _mirrored(direction_deg: Floats) -> Floats:
    steps = direction_deg * np.float32(8)
    steps += np.float32(360 * 8 + 0.5)
    return np.asarray(np.take(_mirror_table(), steps.astype(np.intp), mode="clip"))


@cache
def _grain() -> Floats:
    """Return a tile of grain, 512 by 1024, mean 0 and spread 1; part of it drawn out by the brush."""
    chance = np.random.default_rng(7_316)
    tile = chance.standard_normal((512, 1024), dtype=np.float32)
    drawn = np.cumsum(np.concatenate((tile, tile[:24])), axis=0)
    drawn = (drawn[24:] - drawn[:-24]) / np.float32(24**0.5)
    mixed = np.float32(0.62) * tile + np.float32(0.78) * drawn
    mixed -= mixed.mean(dtype=np.float64).astype(np.float32)
    return np.asarray(np.clip(mixed, -3, 3), dtype=np.float32)


@cache
def _streaks() -> Floats:
    """Return brush streaks along the axis, 4096 pixels, mean 0, spread 1."""
    chance = np.random.default_rng(52_901)
    streaks = np.zeros(4096)
    for size, weight in ((1, 0.35), (3, 0.5), (9, 0.6), (31, 0.5)):
        noise = chance.standard_normal(4096)
        ring = np.concatenate((noise, noise[:size]))
        sums = np.concatenate(([0.0], np.cumsum(ring)))
        streaks += weight * (sums[size : size + 4096] - sums[:4096]) / size**0.5
    return np.asarray(streaks / streaks.std(), dtype=np.float32)


def bare(frame: Canvas, micrometer: Micrometer, plain: bool) -> Metal:
    """Return the instrument without ink. The thimble's edge stands where `frame` says."""
    filled = _silhouette(frame, micrometer)
    if plain:
        light = PLAIN_GROUND + (PLAIN_METAL - PLAIN_GROUND) * filled
        return Metal(light.astype(np.float32), filled)
    light = ground(frame)
    for columns, shine in _zones(frame, micrometer):
        if columns.stop > columns.start:
            zone = light[:, columns]
            zone += (shine - zone) * filled[:, columns]
    np.clip(light, 0.004, 0.96, out=light)
    return Metal(light, filled)


def _rows_mm(frame: Canvas) -> Floats:
    rows = np.arange(frame.height_px, dtype=np.float32) + np.float32(0.5)
    return (rows - np.float32(frame.axis_px)) / np.float32(frame.px_per_mm)


def _columns_mm(frame: Canvas) -> Floats:
    columns = np.arange(frame.width_px, dtype=np.float32) + np.float32(0.5 - frame.edge_px)
    return columns / np.float32(frame.px_per_mm)


def radii_mm(frame: Canvas, micrometer: Micrometer) -> Floats:
    """Return the instrument's radius at each column, 0 beyond its end."""
    x, shape, sizes = _columns_mm(frame), cone(micrometer), micrometer.sizes
    body = shape.end_mm
    radius = np.where(x < 0, sizes.sleeve_diameter_mm / 2, shape.edge_mm + shape.slope * x)
    radius = np.minimum(radius, np.where(x < 0, radius, body))
    land_end, groove_end, grip_end, band_end, end = _stations(shape, sizes.land_length_mm)
    radius = np.where((x >= land_end) & (x < groove_end), body - 0.16, radius)
    chamfer = np.clip(band_end - x, 0, 0.5)
    radius = np.where((x >= grip_end) & (x < band_end), body - 0.5 + chamfer, radius)
    rounding = np.clip(end - x, 0, 0.6)
    ratchet = RATCHET_RADIUS * body - 0.6 + rounding
    radius = np.where(x >= band_end, np.where(x < band_end + 0.5, 0.8 * ratchet, ratchet), radius)
    return np.where(x >= end, 0, radius).astype(np.float32)


def _stations(shape: Cone, land_mm: float) -> tuple[float, float, float, float, float]:
    """Return where land, groove, grip, plain band and ratchet end, from the thimble's edge."""
    land = shape.length_mm + land_mm
    grip = land + GROOVE_MM + GRIP_MM
    return land, land + GROOVE_MM, grip, grip + BAND_MM, grip + BAND_MM + RATCHET_MM


def _silhouette(frame: Canvas, micrometer: Micrometer) -> Floats:
    """Return how much of each pixel the instrument fills."""
    radius_px = radii_mm(frame, micrometer) * np.float32(frame.px_per_mm)
    rows_px = np.abs(_rows_mm(frame)) * np.float32(frame.px_per_mm)
    inside = radius_px[None, :] - rows_px[:, None]
    inside += np.float32(0.5)
    return np.clip(inside, 0, 1, out=inside)


def ground(frame: Canvas) -> Floats:
    """Return the light of the ground: a dark bench out of focus, lighter above, alike along each row."""
    down = np.linspace(-1, 1, frame.height_px, dtype=np.float32)[:, None]
    light = (0.036 - 0.011 * down) * (1 - 0.16 * down**2)
    return np.repeat(light, frame.width_px, axis=1).astype(np.float32)


def _zones(frame: Canvas, micrometer: Micrometer) -> list[tuple[slice, Floats]]:
    """Return the light of each part of the instrument over its columns."""
    shape, sizes = cone(micrometer), micrometer.sizes
    rows, x = _rows_mm(frame), _columns_mm(frame)
    stops = [0.0, shape.length_mm, *_stations(shape, sizes.land_length_mm)]
    at = [0, *(_column(frame, stop) for stop in stops), frame.width_px]
    slices = [slice(a, max(a, b)) for a, b in itertools.pairwise(at)]
    sleeve, bevel, land, groove, grip, band, ratchet, _ = slices
    zones = [
        (sleeve, _sleeve(rows, x[sleeve], sizes.sleeve_diameter_mm / 2, shape.edge_mm, frame, sleeve)),
        (bevel, _bevel(rows, x[bevel], shape, frame, bevel)),
        (land, _turned(rows, shape.end_mm, frame, land, 1.0)),
        (groove, _turned(rows, shape.end_mm, frame, groove, 0.36)),
        (grip, _knurl(rows, x[grip], shape.end_mm, frame)),
        (band, _turned(rows, shape.end_mm, frame, band, 0.97)),
        (ratchet, _turned(rows, RATCHET_RADIUS * shape.end_mm, frame, ratchet, 0.86)),
    ]
    _line_at(zones[2][1], 0, 1.16)
    _line_at(zones[2][1], zones[2][1].shape[1] - 1, 1.1)
    return [(columns, shine) for columns, shine in zones]


def _column(frame: Canvas, x_mm: float) -> int:
    return min(max(round(frame.x_px(x_mm)), 0), frame.width_px)


def _line_at(shine: Floats, column: int, factor: float) -> None:
    """Brighten one column of a zone: light caught by a turned corner."""
    if 0 <= column < shine.shape[1]:
        shine[:, column] *= np.float32(factor)


def _profile(rows_mm: Floats, radius_mm: float, tilt_deg: float) -> Floats:
    """Return the light of a cylinder by row."""
    sine = np.clip(rows_mm / np.float32(radius_mm), -1, 1)
    angle = np.degrees(np.arcsin(sine))
    limb = 0.30 + 0.70 * np.sqrt(np.maximum(1 - sine * sine, 0)) ** np.float32(0.55)
    return np.asarray(_mirrored(2 * angle + np.float32(tilt_deg)) * limb, dtype=np.float32)


def cylinder(rows_mm: Floats, radius_mm: float) -> Floats:
    """Return the light of a plain cylinder by row, `rows_mm` from its axis."""
    return _profile(rows_mm, radius_mm, 0)


def _textured(shine: Floats, frame: Canvas, columns: slice) -> Floats:
    """Lay brush streaks and grain over a zone, in place."""
    x = np.arange(columns.start, columns.stop) - frame.edge_px
    streaks = _streaks()[x % 4096] * np.float32(STREAKS)
    tile = _grain()
    y = np.arange(shine.shape[0]) % tile.shape[0]
    texture = tile[:, x % tile.shape[1]]
    texture = texture * np.float32(GRAIN)
    texture += streaks
    texture += np.float32(1)
    for top in range(0, shine.shape[0], tile.shape[0]):
        rows = slice(top, min(top + tile.shape[0], shine.shape[0]))
        shine[rows] *= texture[y[rows]]
    return shine


def _turned(rows: Floats, radius_mm: float, frame: Canvas, columns: slice, share: float) -> Floats:
    width = columns.stop - columns.start
    shine = np.repeat(share * _profile(rows, radius_mm, 0)[:, None], width, axis=1).astype(np.float32)
    return _textured(shine, frame, columns)


def _sleeve(
    rows: Floats, x: Floats, radius_mm: float, edge_mm: float, frame: Canvas, columns: slice
) -> Floats:
    """Return the sleeve's light with the shadow that the thimble throws on it."""
    step = np.float32(min(1.0, 0.25 + 2 * (edge_mm - radius_mm)))
    shadow = 1 - step * (0.44 * np.exp(x / 0.30) + 0.20 * np.exp(x / 1.3))
    shine = _profile(rows, radius_mm, 0)[:, None] * shadow.astype(np.float32)[None, :]
    return _textured(shine, frame, columns)


def _bevel(rows: Floats, x: Floats, shape: Cone, frame: Canvas, columns: slice) -> Floats:
    """Return the bevel's light: row by row on the cone, with a bright chamfer at the edge."""
    unit = np.linspace(-1, 1, 2049, dtype=np.float32)
    table = _profile(unit, 1.0, BEVEL_TILT_DEG) * np.float32(1.03)
    radius = (shape.edge_mm + shape.slope * x).astype(np.float32)
    place = rows[:, None] / radius[None, :]
    place += np.float32(1)
    place *= np.float32(1024)
    shine = np.take(table, place.astype(np.intp), mode="clip")
    chamfer_px = max(1.0, 0.07 * frame.px_per_mm)
    from_edge = np.arange(columns.stop - columns.start, dtype=np.float32)
    glint = np.clip(chamfer_px - from_edge, 0, 1) * 0.20 - 0.10 * np.exp(-((x - 0.16) ** 2) / 0.006)
    shine *= (1 + glint.astype(np.float32))[None, :]
    return _textured(shine, frame, columns)


def _knurl(rows: Floats, x: Floats, radius_mm: float, frame: Canvas) -> Floats:
    """Return the light of a diamond knurl: small pyramids between two sets of crossing grooves."""
    sine = np.clip(rows / np.float32(radius_mm), -1, 1)
    angle = np.arcsin(sine)
    round_mm = (angle * np.float32(radius_mm))[:, None] / np.float32(KNURL_PITCH_MM)
    along = x[None, :] / np.float32(KNURL_PITCH_MM)
    sharp = np.float32(KNURL_PITCH_MM * frame.px_per_mm)
    rising, falling = along + round_mm, along - round_mm
    rising -= np.floor(rising) + np.float32(0.5)
    falling -= np.floor(falling) + np.float32(0.5)
    up, down = np.abs(rising), np.abs(falling)
    first = np.clip((up - down) * sharp * np.float32(0.7) + np.float32(0.5), 0, 1)
    lean = np.clip(rising * sharp, -1, 1) * first - np.clip(falling * sharp, -1, 1) * (1 - first)
    forward = np.clip(rising * sharp, -1, 1) * first + np.clip(falling * sharp, -1, 1) * (1 - first)
    depth = np.maximum(up, down)
    flat = np.clip((depth - np.float32(0.13)) * sharp + np.float32(0.5), 0, 1)
    tilt = np.float32(2 * KNURL_TILT_DEG) * lean * flat
    tilt += (2 * np.degrees(angle))[:, None]
    shine = _mirrored(tilt)
    shine *= 1 - np.float32(0.20) * forward * flat
    shine *= 1 - np.float32(0.62) * np.clip((depth - np.float32(0.36)) / np.float32(0.14), 0, 1) ** 2
    limb = np.float32(0.26) + np.float32(0.74) * np.sqrt(np.maximum(1 - sine * sine, 0))
    fade = min(max((float(sharp) - 2.0) / 4.0, 0.0), 1.0)  # too fine for the pixels: only its mean is left
    if fade < 1:
        shine *= np.float32(fade)
        shine += np.float32(1 - fade) * np.float32(0.72) * _mirrored(2 * np.degrees(angle))[:, None]
    return np.asarray(shine * (np.float32(0.94) * limb)[:, None], dtype=np.float32)
