"""What everything looks like: grounds, type sizes, spacing. The reasons are in docs/look.md."""

from dataclasses import dataclass

Colour = tuple[int, int, int]


def _hex(text: str) -> Colour:
    return int(text[0:2], 16), int(text[2:4], 16), int(text[4:6], 16)


@dataclass(frozen=True, slots=True)
class Ground:
    """The colours of one ground; every text tone keeps 4.5:1 or more on every surface it stands on."""

    name: str
    paper: Colour  # the bench: behind everything
    sheet: Colour  # a sheet of paper on the bench: panels
    rail: Colour  # satin steel at its darker end
    rail_light: Colour  # satin steel where the light falls
    ink: Colour  # engraving black
    soft: Colour  # ink of secondary text
    line: Colour  # hairlines that only divide
    edge: Colour  # outlines of things that can be worked
    field: Colour  # inside of a text field
    accent: Colour  # marking-out blue
    accent_ink: Colour  # text on the accent
    wash: Colour  # a thin coat of the accent: selection, hover
    brass: Colour  # text of a caution
    brass_wash: Colour  # ground of a caution
    veil: tuple[int, int, int, int]  # over what waits behind a dialog
    bold_lines: bool = False

    def tone(self, name: str) -> Colour:
        """Return the colour of a text tone: ink, soft, accent, accent_ink, brass."""
        colour: Colour = getattr(self, name)
        return colour


LIGHT = Ground(
    name="light",
    paper=_hex("EFEDE7"),
    sheet=_hex("FBFAF7"),
    rail=_hex("CDD1D5"),
    rail_light=_hex("E4E6E8"),
    ink=_hex("1A1D20"),
    soft=_hex("4A5158"),
    line=_hex("D3D0C8"),
    edge=_hex("747B82"),
    field=_hex("FFFFFF"),
    accent=_hex("1C4C8C"),
    accent_ink=_hex("FFFFFF"),
    wash=_hex("D9E4F2"),
    brass=_hex("70470A"),
    brass_wash=_hex("F4E9D3"),
    veil=(26, 29, 32, 120),
)

DARK = Ground(
    name="dark",
    paper=_hex("141619"),
    sheet=_hex("1D2023"),
    rail=_hex("1F2327"),
    rail_light=_hex("2B3035"),
    ink=_hex("ECEEF0"),
    soft=_hex("AEB6BE"),
    line=_hex("34393F"),
    edge=_hex("838C95"),
    field=_hex("101214"),
    accent=_hex("8AB7F3"),
    accent_ink=_hex("0C1420"),
    wash=_hex("233349"),
    brass=_hex("E5BA6E"),
    brass_wash=_hex("352B19"),
    veil=(0, 0, 0, 150),
)

STARK = Ground(
    name="contrast",
    paper=_hex("000000"),
    sheet=_hex("000000"),
    rail=_hex("000000"),
    rail_light=_hex("000000"),
    ink=_hex("FFFFFF"),
    soft=_hex("FFFFFF"),
    line=_hex("9A9A9A"),
    edge=_hex("FFFFFF"),
    field=_hex("000000"),
    accent=_hex("7CC4FF"),
    accent_ink=_hex("000000"),
    wash=_hex("00304F"),
    brass=_hex("FFD98A"),
    brass_wash=_hex("2B1F00"),
    veil=(0, 0, 0, 190),
    bold_lines=True,
)

GROUNDS: dict[str, Ground] = {ground.name: ground for ground in (LIGHT, DARK, STARK)}

SIZES: dict[str, tuple[float, bool]] = {  # height of the type in units, bold
    "title": (25, False),
    "heading": (16, True),
    "body": (14.5, False),
    "strong": (14.5, True),
    "small": (12.5, False),
    "caps": (11.5, True),
    "figure": (21, False),
    "large": (30, False),
}

RADIUS = 3  # a machined edge is broken, not rounded
CONTROL = 36  # height of a button or field
ROW = 30  # height of a table row
RAIL = 196
RAIL_NARROW = 60
NARROW_BELOW = 900  # width in units under which the rail shows pictures only
READABLE = 1400  # width in units beyond which text is no easier to read
SMALLEST = (600.0, 380.0)  # units; a smaller window shrinks the scale instead


def scale_for(size_px: tuple[int, int], wanted: float) -> float:
    """Return the scale to draw at: the wanted one, less only in a window too small for anything else.

    >>> scale_for((1280, 720), 1.0), scale_for((3840, 2160), 2.0), scale_for((300, 200), 1.0)
    (1.0, 2.0, 0.5)
    """
    room = min(size_px[0] / SMALLEST[0], size_px[1] / SMALLEST[1])
    return max(0.5, min(wanted, room)) if room < wanted else wanted


STEPS = (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)


def next_scale(scale: float, key: str) -> float:
    """Return the scale that a key asks for: "+" and "=" larger, "-" smaller, "0" the display's own.

    >>> next_scale(1.0, "+"), next_scale(3.0, "+"), next_scale(1.6, "-"), next_scale(2.0, "0")
    (1.25, 3.0, 1.5, 0.0)
    """
    if key == "0":
        return 0.0
    bigger = key in ("+", "=")
    found = [s for s in STEPS if (s > scale + 0.01 if bigger else s < scale - 0.01)]
    return (found[0] if bigger else found[-1]) if found else scale


def luminance(colour: Colour) -> float:
    """Return relative luminance, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: Colour, b: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio).

    >>> round(contrast((0, 0, 0), (255, 255, 255)), 1)
    21.0
    """
    first, second = sorted((luminance(a), luminance(b)), reverse=True)
    return (first + 0.05) / (second + 0.05)
