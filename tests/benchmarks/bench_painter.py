"""The painter measured: position error, speed beside general rasterisers, cold start, conditions, paper.

Run it plainly: `python tests/benchmarks/bench_painter.py`. Rivals come from the extra `bench` (skia,
OpenCV) and draw the same scene over the same bare metal: they are handed ready polygons, so that only
handing these to the library, restoring, drawing and converting the same dirty rectangles is timed, while
our time holds the geometry too. Frames of all three take turns.
Times are processor time of the one thread that works, so that other load on the machine counts little;
figures are for the machine at hand, and the ratios within one run are what is to be compared.
"""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import skia

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))
sys.path.insert(0, str(ROOT / "tests" / "drawing"))

from test_painter import LIMITS, measured_errors  # noqa: E402

import reader  # noqa: E402
from trainer.drawing import paper  # noqa: E402
from trainer.drawing.light import INK_STRENGTH, decode  # noqa: E402
from trainer.drawing.painter import Painter  # noqa: E402
from trainer.drawing.scene import scene  # noqa: E402
from trainer.drawing.viewing import Viewing  # noqa: E402
from trainer.instrument import catalogue  # noqa: E402
from trainer.instrument.micrometer import State  # noqa: E402

METRIC = catalogue.load("metric")
INK = ("mark", "graduation", "numeral")  # the index line stands still and is part of the bare picture
FRAMES, BLOCK = 120, 12  # frames timed, and how many in a row before the next renderer has its turn


def say(what: str, figure: str, target: str = "") -> None:
    """Print one line of the report."""
    print(f"{what:<66} {figure:>24}  {target}")


def polygons_px(position: float, painter: Painter) -> list[np.ndarray]:
    """Return the scene's inked polygons in pixels."""
    frame = painter.frame
    shown = scene(State(METRIC, position), painter.viewing, left_mm=frame.left_mm)
    place = np.array([frame.edge_px, frame.axis_px])
    return [
        np.array(polygon) * frame.px_per_mm + place
        for shape in shown.shapes
        if shape.part in INK
        for polygon in shape.polygons
    ]


class OpenCv:
    """8-bit anti-aliased polygons, blended as translucent ink in gamma-encoded values."""

    def __init__(self, bare: np.ndarray) -> None:
        cv2.setNumThreads(1)
        self.bare, self.picture, self.inked = bare, bare.copy(), bare.copy()

    def prepared(self, polygons: list[np.ndarray]) -> list[np.ndarray]:
        """Return polygons with eight fractional bits; OpenCV counts pixel centres as whole."""
        return [np.rint((polygon - 0.5) * 256).astype(np.int32) for polygon in polygons]

    def draw(self, polygons: list[np.ndarray], dirty: list[tuple[int, int, int, int]]) -> np.ndarray:
        """Restore the dirty rectangles, draw the polygons opaque, and let the metal through them."""
        parts = [(slice(top, top + height), slice(left, left + width)) for left, top, width, height in dirty]
        for part in parts:
            self.inked[part] = self.bare[part]
        for polygon in polygons:
            if len(polygon) == 4:
                cv2.fillConvexPoly(self.inked, polygon, (0, 0, 0), cv2.LINE_AA, 8)
            else:
                cv2.fillPoly(self.inked, [polygon], (0, 0, 0), cv2.LINE_AA, 8)
        for part in parts:
            cv2.addWeighted(self.inked[part], 0.75, self.bare[part], 0.25, 0, dst=self.picture[part])
        return self.picture


class SkiaLinear:
    """Half-float linear light, converted to 8-bit sRGB."""

    def __init__(self, bare: np.ndarray) -> None:
        height, width = bare.shape[:2]
        linear = skia.ColorSpace.MakeSRGBLinear()
        info = skia.ImageInfo.Make(width, height, skia.kRGBA_F16_ColorType, skia.kPremul_AlphaType, linear)
        rgba = np.dstack([bare, np.full((height, width), 255, dtype=np.uint8)])
        image = skia.Image.fromarray(np.ascontiguousarray(rgba), skia.kRGBA_8888_ColorType)
        ground = skia.Surface.MakeRaster(info)
        ground.getCanvas().drawImage(image, 0, 0)
        self.bare = ground.makeImageSnapshot()
        self.surface = skia.Surface.MakeRaster(info)
        self.surface.getCanvas().drawImage(self.bare, 0, 0)
        self.paint = skia.Paint(Color4f=skia.Color4f(0, 0, 0, INK_STRENGTH), AntiAlias=True)
        self.width, self.height = width, height
        self.pixels = np.empty((height, width, 4), dtype=np.uint8)

    def prepared(self, polygons: list[np.ndarray]) -> skia.Path:
        """Return all polygons as one path with the nonzero rule."""
        path = skia.Path()
        for polygon in polygons:
            path.addPoly([skia.Point(float(x), float(y)) for x, y in polygon], True)
        return path

    def draw(self, path: skia.Path, dirty: list[tuple[int, int, int, int]]) -> np.ndarray:
        """Restore the dirty rectangles, draw the path in them, and convert them."""
        canvas = self.surface.getCanvas()
        for left, top, width, height in dirty:
            canvas.save()
            canvas.clipRect(skia.Rect.MakeXYWH(left, top, width, height))
            canvas.drawImage(self.bare, 0, 0)
            canvas.drawPath(path, self.paint)
            canvas.restore()
            part = np.empty((height, width, 4), dtype=np.uint8)
            info = skia.ImageInfo.Make(
                width, height, skia.kRGBA_8888_ColorType, skia.kPremul_AlphaType, skia.ColorSpace.MakeSRGB()
            )
            self.surface.readPixels(info, part, width * 4, left, top)
            self.pixels[top : top + height, left : left + width] = part
        return self.pixels


def merged(rectangles: tuple[tuple[int, int, int, int], ...], edge: int) -> list[tuple[int, int, int, int]]:
    """Return two rectangles, sleeve and thimble, that hold all dirty ones."""
    boxes = []
    for side in (False, True):
        parts = [r for r in rectangles if (r[0] + r[2] / 2 > edge) == side]
        if parts:
            left, top = min(r[0] for r in parts), min(r[1] for r in parts)
            right, bottom = max(r[0] + r[2] for r in parts), max(r[1] + r[3] for r in parts)
            boxes.append((left, top, right - left, bottom - top))
    return boxes


def bare_picture(painter: Painter) -> np.ndarray:
    """Return the instrument without moving ink, as the brightest of many positions."""
    brightest = painter.paint(7400.0).copy()
    for position in np.linspace(7410, 8400, 60):
        np.maximum(brightest, painter.paint(position), out=brightest)
    return brightest


def speed(size: tuple[int, int], px_per_mm: float) -> dict[str, float]:
    """Return the median milliseconds of a frame: ours, skia's in linear light, OpenCV's."""
    painter = Painter(METRIC, None, Viewing(px_per_mm), size)
    bare = bare_picture(painter)
    rivals = {"skia F16 linear": SkiaLinear(bare), "OpenCV 8-bit": OpenCv(bare)}
    names = ("ours", *rivals, *(f"{name}, whole frame" for name in rivals), "geometry")
    taken: dict[str, list[float]] = {name: [] for name in names}
    painter.paint(7862.0)
    for block in range(FRAMES // BLOCK):
        positions = [7863.0 + 0.83 * (block * BLOCK + frame) for frame in range(BLOCK)]
        for position in positions:
            taken["ours"].append(timed(lambda at=position: painter.paint(at)))
        dirty = merged(painter.changed, painter.frame.edge_px)
        scenes = []
        for position in positions:
            taken["geometry"].append(
                timed(lambda at=position, to=scenes: to.append(polygons_px(at, painter)))
            )
        for name, rival in rivals.items():
            for polygons in scenes:
                taken[name].append(timed(lambda r=rival, p=polygons, d=dirty: r.draw(r.prepared(p), d)))
            for polygons in scenes[:3]:
                everything = [(0, 0, *size)]
                taken[f"{name}, whole frame"].append(
                    timed(lambda r=rival, p=polygons, w=everything: r.draw(r.prepared(p), w))
                )
    return {name: 1000 * statistics.median(times) for name, times in taken.items()}


def timed(work: Callable[[], object]) -> float:
    """Return the processor seconds of this thread that some work takes: other processes do not count."""
    start = time.thread_time()
    work()
    return time.thread_time() - start


def rival_errors(px_per_mm: float, readings: int) -> dict[str, np.ndarray]:
    """Return the position errors of rivals on plain metal, in divisions, by the same reader."""
    size = max(int(9 * px_per_mm), 64), max(int(18.4 * px_per_mm), 64)
    painter = Painter(METRIC, None, Viewing(px_per_mm, plain=True), size)
    plain = np.full((size[1], size[0], 3), 232, dtype=np.uint8)
    rivals = {"skia F16 linear": SkiaLinear(plain), "OpenCV 8-bit": OpenCv(plain)}
    chance = np.random.default_rng(11)
    errors: dict[str, list[float]] = {name: [] for name in rivals}
    bare = np.full(size[::-1], decode(232.0))
    for position in chance.uniform(0, 25000, readings):
        polygons = polygons_px(position, painter)
        for name, rival in rivals.items():
            picture = rival.draw(rival.prepared(polygons), [(0, 0, *size)])[:, :, :3]
            dark = reader.darkness(picture, bare)
            fraction = reader.fraction_below_index(
                dark, METRIC, px_per_mm, size[1] / 2, painter.frame.edge_px, size[1] / 2
            )
            errors[name].append((fraction - position / 10 + 0.5) % 1 - 0.5)
    return {name: np.array(values) for name, values in errors.items()}


def report_accuracy() -> None:
    """Report position errors over 1,000 random readings."""
    chance = np.random.default_rng(20260101)
    for px_per_mm, limit in LIMITS.items():
        for plain in (False, True):
            errors = measured_errors("metric", px_per_mm, plain, 1000, chance)
            look = "plain" if plain else "full"
            figure = f"max {np.abs(errors).max():.5f} sd {errors.std():.5f}"
            say(f"position error, {px_per_mm} px/mm, {look}, division", figure, f"target max {limit}")
        ours = errors.std()
        for name, other in rival_errors(px_per_mm, 200).items():
            figure = f"max {np.abs(other).max():.4f} sd {other.std():.5f}"
            say(f"   {name}, plain", figure, f"{other.std() / ours:.0f} times ours")


def report_speed() -> None:
    """Report frame times beside the rivals'."""
    for size, px_per_mm in (((1920, 1080), 51.0), ((1280, 720), 34.0), ((3840, 2160), 102.0)):
        times = speed(size, px_per_mm)
        say(f"incremental frame {size[0]}x{size[1]}, geometry included", f"{times['ours']:.2f} ms")
        for name, least in (("skia F16 linear", 8.0), ("OpenCV 8-bit", 1.0)):
            for what, milliseconds in (
                ("dirty rectangles, polygons handed over", times[name]),
                ("dirty rectangles, from the position on", times[name] + times["geometry"]),
                ("whole frame, from the position on", times[f"{name}, whole frame"] + times["geometry"]),
            ):
                ratio = milliseconds / times["ours"]
                goal = f"target >= {least:g}" if what.startswith("whole") else ""
                say(f"   {name}, {what}", f"{milliseconds:.2f} ms", f"{ratio:.1f} times ours  {goal}")


def report_cold() -> None:
    """Report rebuilds after a change of size, import and first frame."""
    for size, px_per_mm in (((1920, 1080), 50.0), ((3840, 2160), 100.0)):
        times = []
        for step in range(5):
            viewing = Viewing(px_per_mm + step / 7)
            times.append(timed(lambda v=viewing, s=size: Painter(METRIC, None, v, s).paint(7374.2)))
        target = "target <= 0.2 s" if size[0] == 1920 else ""
        say(f"cold rebuild {size[0]}x{size[1]}", f"{statistics.median(times):.3f} s", target)
    for what, code in (
        ("import numpy", "import numpy"),
        ("import trainer.drawing.painter", "import trainer.drawing.painter"),
        (
            "start to first picture of 1280x720",
            "from trainer.drawing.painter import *; from trainer.drawing.viewing import Viewing;"
            "from trainer.instrument import catalogue;"
            "Painter(catalogue.load('metric'), None, Viewing(34.0), (1280, 720)).paint(7374.2)",
        ),
    ):
        times = []
        for _ in range(5):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
            times.append(time.perf_counter() - start)
        say(f"process: {what}", f"{statistics.median(times):.3f} s")


def report_conditions() -> None:
    """Report how long pictures under conditions take at 1280x720."""
    for name, spoilt in {
        "defocus 0.25 mm": {"blur_mm": 0.25},
        "defocus and glare": {"blur_mm": 0.25, "glare": 0.6},
        "worn, dirty, faint": {"wear": 0.8, "dirt": 0.6, "contrast": 0.5},
        "everything": {"blur_mm": 0.4, "glare": 0.4, "wear": 0.5, "dirt": 0.5, "contrast": 0.7},
    }.items():
        painter = Painter(METRIC, None, Viewing(34.0, **spoilt), (1280, 720))
        times = []
        for step in range(12):
            times.append(timed(lambda p=painter, at=7374.2 + step: p.paint(at)))
        say(
            f"picture under condition: {name}",
            f"{1000 * statistics.median(times):.0f} ms",
            "target <= 100 ms",
        )


def report_paper() -> None:
    """Report a sheet of thirty readings."""
    chance = np.random.default_rng(3)
    start = time.perf_counter()
    items = tuple(
        paper.Placed(
            scene(State(METRIC, chance.uniform(0, 25000)), Viewing(20.0), left_mm=38.0),
            55 + 62 * (n % 3),
            30 + 25 * (n // 3),
            37.0,
            16.0,
            20.0,
        )
        for n in range(30)
    )
    body = paper.encoded([paper.Page(*paper.A4, items)])
    taken = time.perf_counter() - start
    say(
        "sheet of 30 readings",
        f"{1000 * taken:.0f} ms, {len(body) / 1000:.0f} kB",
        "target <= 400 ms, 130 kB",
    )


if __name__ == "__main__":
    report_speed()
    report_accuracy()
    report_cold()
    report_conditions()
    report_paper()
