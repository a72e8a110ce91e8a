"""What spoils the sight of a scale, in linear light: worn lines, dirt, glare, defocus.

Nothing here moves a line. Wear takes ink evenly across a line's width, dirt takes light from metal and
ink alike, glare adds the same light to both, and the disc of defocus is symmetrical. What is random
is fixed by a line's number or by the place on the instrument, so that the same worn instrument comes
back each time.
"""

import math
from functools import cache

import numpy as np

from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import Doubles
from trainer.drawing.light import Floats
from trainer.instrument.micrometer import Micrometer

WEAR_GRAIN_MM = 0.2  # distance over which wear changes
DIRT_DEPTH = 0.6  # light that the thickest smudge takes away at full dirt
SPECKS, SMUDGES = 46, 13


@cache
def _wear_noise() -> Doubles:
    """Return how much of its ink a line has lost along its way, 0 to 1, 8192 samples."""
    chance = np.random.default_rng(88_127)
    rough = chance.random(8192)
    smooth = np.convolve(chance.random(8192 + 24), np.hanning(25) / 12, mode="valid")
    mixed = 0.35 * rough + 0.65 * (smooth - smooth.min()) / np.ptp(smooth)
    return np.asarray(np.clip((mixed - 0.22) * 1.6, 0, 1))


def ink_left(wear: float, number: int, along_mm: Doubles) -> Floats:
    """Return the share of its ink that a line of a number has kept at places along it."""
    noise = _wear_noise()
    places = np.abs(along_mm) / WEAR_GRAIN_MM + 131.7 * number
    whole = np.floor(places).astype(np.intp)
    part = places - whole
    lost = (1 - part) * noise[whole % noise.size] + part * noise[(whole + 1) % noise.size]
    return np.asarray(1 - wear * lost, dtype=np.float32)


def light_through_dirt(frame: Canvas, dirt: float) -> Floats:
    """Return the share of light that smudges and specks let through, shape (height, width)."""
    chance = np.random.default_rng(40_411)
    x = (np.arange(frame.width_px) + 0.5 - frame.edge_px) / frame.px_per_mm
    y = (np.arange(frame.height_px) + 0.5 - frame.axis_px) / frame.px_per_mm
    thick = np.zeros((y.size, x.size), dtype=np.float32)
    for spot in range(SMUDGES + SPECKS):
        smudge = spot < SMUDGES
        size = chance.uniform(0.9, 2.6) if smudge else chance.uniform(0.04, 0.13)
        at_x, at_y = chance.uniform(-16, 8), chance.uniform(-7.5, 7.5)
        depth = chance.uniform(0.35, 0.9)
        columns = slice(*np.searchsorted(x, [at_x - 3.2 * size, at_x + 3.2 * size]))
        rows = slice(*np.searchsorted(y, [at_y - 3.2 * size, at_y + 3.2 * size]))
        across = np.exp(-(((x[columns] - at_x) / size) ** 2)).astype(np.float32)
        down = np.exp(-(((y[rows] - at_y) / (0.7 * size)) ** 2)).astype(np.float32)
        part = thick[rows, columns]
        part += np.float32(depth) * (1 - part) * down[:, None] * across[None, :]
    return np.asarray(1 - np.float32(DIRT_DEPTH * dirt) * thick)


def glare_light(frame: Canvas, micrometer: Micrometer, glare: float) -> Floats:
    """Return the light of a lamp's reflection over the scale, shape (height, width).

    It is brightest on the thimble a little above the index line, where the satin highlight lies.
    """
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    x = (np.arange(frame.width_px) + 0.5 - frame.edge_px) / frame.px_per_mm
    y = (np.arange(frame.height_px) + 0.5 - frame.axis_px) / frame.px_per_mm
    down = np.exp(-(((y + 0.14 * radius) / (0.24 * radius)) ** 2))
    near = np.exp(-(((x - 1.6) / 4.4) ** 2))
    across = np.where(x < 0, 0.22 + 0.5 * near, 0.34 + 0.66 * near)
    return np.asarray(glare * down[:, None] * across[None, :], dtype=np.float32)


def defocused(light: Floats, diameter_px: float) -> Floats:
    """Return light with every point spread evenly over a disc; beyond its rim the picture goes on alike.

    The disc is cut into rows of pixels; each row's stretch is summed by differences of running sums.
    """
    radius = diameter_px / 2
    reach = math.ceil(radius + 0.5)
    shares = _disc_rows(radius, reach)
    height, width = light.shape
    padded = np.pad(light - light.mean(), reach + 1, mode="edge")
    summed = np.zeros((padded.shape[0], padded.shape[1] + 1), dtype=np.float32)
    np.cumsum(padded, axis=1, dtype=np.float32, out=summed[:, 1:])
    spread = np.zeros((height, width), dtype=np.float32)
    for down, area in enumerate(shares):
        if area <= 0:
            continue
        rows = summed[reach + 1 + down : reach + 1 + down + height]
        if down:
            rows = rows + summed[reach + 1 - down : reach + 1 - down + height]
        spread += _stretch(rows, area / 2, reach + 1, width)
    spread /= np.float32(math.pi * radius**2)
    spread += light.mean()
    return spread


def _disc_rows(radius: float, reach: int) -> list[float]:
    """Return the area of a disc that lies in its middle row of unit height, and in each row below."""

    def up_to(y: float) -> float:
        y = min(max(y, -radius), radius)
        return y * math.sqrt(max(radius**2 - y**2, 0.0)) + radius**2 * math.asin(y / radius)

    return [up_to(row + 0.5) - up_to(row - 0.5) for row in range(reach + 1)]


def _stretch(summed: Floats, half: float, start: int, width: int) -> Floats:
    """Return the sums over a stretch of `half` pixels to either side of each pixel's centre."""
    far = 0.5 + half
    whole = math.floor(far)
    part = np.float32(far - whole)
    right = summed[:, start + whole : start + whole + width]
    beyond = summed[:, start + whole + 1 : start + whole + 1 + width]
    left = summed[:, start + 1 - whole : start + 1 - whole + width]
    before = summed[:, start - whole : start - whole + width]
    total = right - left
    rest = beyond - before
    rest -= total
    rest *= part
    total += rest
    return np.asarray(total)
