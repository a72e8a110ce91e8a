"""Make the program's icon in every form that desktops ask for: `python packaging/make_icons.py`.

The design is one stroke drawing: a thimble's edge against a sleeve, the index line between two graduations.
"""

import io
import struct
from pathlib import Path

import matplotlib
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch, Polygon

HERE = Path(__file__).resolve().parent
SIDE = 64.0  # units of the drawing
STEEL, EDGE, INK, BLUE = "#D6DADD", "#747B82", "#1A1D20", "#1C4C8C"
PAPER = "#FBFAF7"
THIMBLE = ((29, 13), (55, 9), (55, 55), (29, 51))
GRADUATIONS = ((29, 18.5, 37, 17.6), (29, 27, 44, 26.4), (29, 37, 37, 37.4), (29, 45.5, 37, 46.4))
SLEEVE = ((6, 32, 30, 32), (9, 32, 9, 23), (17, 32, 17, 26), (25, 32, 25, 23))
INDEX = (29, 32, 50, 32)
PNG_SIDES = (16, 24, 32, 48, 64, 128, 256, 512)
ICNS_TYPES = {128: b"ic07", 256: b"ic08", 512: b"ic09"}


def drawn(side_px: int, form: str) -> bytes:
    """Return the icon as bytes of a PNG or SVG file, `side_px` wide and high."""
    figure = Figure(figsize=(side_px / 100, side_px / 100), dpi=100)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, SIDE), ylim=(SIDE, 0))
    axes.set_axis_off()
    figure.patch.set_alpha(0)
    scale = 72 * side_px / 100 / SIDE  # points per unit
    axes.add_patch(
        FancyBboxPatch((2, 2), 60, 60, "round,pad=0,rounding_size=6", fc=PAPER, ec=EDGE, lw=1.5 * scale)
    )
    axes.add_patch(Polygon(THIMBLE, closed=True, fc=STEEL, ec=INK, lw=2.4 * scale, joinstyle="round"))
    for x0, y0, x1, y1 in (*GRADUATIONS, *SLEEVE):
        axes.plot((x0, x1), (y0, y1), color=INK, lw=2.6 * scale, solid_capstyle="butt")
    x0, y0, x1, y1 = INDEX
    axes.plot((x0, x1), (y0, y1), color=BLUE, lw=2.6 * scale, solid_capstyle="butt")
    kept = io.BytesIO()
    figure.savefig(kept, format=form, transparent=True, metadata={"Date": None} if form == "svg" else None)
    return kept.getvalue()


def ico(pictures: dict[int, bytes]) -> bytes:
    """Return a Windows icon file that holds PNG pictures (ICONDIR, as Windows Vista and later read it)."""
    sides = [side for side in sorted(pictures) if side <= 256]
    head, at = struct.pack("<HHH", 0, 1, len(sides)), 6 + 16 * len(sides)
    for side in sides:
        size = len(pictures[side])
        head += struct.pack("<BBBBHHII", side % 256, side % 256, 0, 0, 1, 32, size, at)
        at += size
    return head + b"".join(pictures[side] for side in sides)


def icns(pictures: dict[int, bytes]) -> bytes:
    """Return a macOS icon file: typed blocks, each with its length, that hold PNG pictures."""
    blocks = b"".join(
        kind + struct.pack(">I", 8 + len(pictures[side])) + pictures[side]
        for side, kind in ICNS_TYPES.items()
    )
    return b"icns" + struct.pack(">I", 8 + len(blocks)) + blocks


def main() -> None:
    """Write all forms beside this script, and the window's own."""
    matplotlib.rcParams["svg.hashsalt"] = "tenthwise"  # the same file every time
    pictures = {side: drawn(side, "png") for side in PNG_SIDES}
    (HERE / "tenthwise.svg").write_bytes(drawn(512, "svg"))
    (HERE / "tenthwise.png").write_bytes(pictures[256])
    (HERE.parent / "trainer" / "desktop" / "icon.png").write_bytes(pictures[64])
    (HERE / "tenthwise.ico").write_bytes(ico(pictures))
    (HERE / "tenthwise.icns").write_bytes(icns(pictures))


if __name__ == "__main__":
    main()
