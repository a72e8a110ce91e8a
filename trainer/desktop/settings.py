"""What a station remembers between runs: ground, scale, keys, window place, display set-ups. A JSON file."""

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from trainer.instrument.whole_file import whole_file

CARD_MM = (85.60, 53.98)  # ISO/IEC 7810:2019, ID-1, width and height
FARTHEST_PX = 32_767  # the window system counts places in 16 bits (X11 protocol, INT16)
USUAL_PX_PER_MM = 96 / 25.4  # 96 pixels an inch, the CSS reference pixel; only until a display is set up


@dataclass(frozen=True, slots=True)
class Display:
    """A display as it was set up: pixels a millimetre, and how far away the eyes are."""

    px_per_mm: float
    distance_mm: float | None = None
    set_at: str = ""
    resolution: tuple[int, int] = (0, 0)
    alignment: tuple[int, int] | None = None  # offsets of a pixel told rightly, of how many


@dataclass(frozen=True, slots=True)
class Settings:
    """A station's settings."""

    ground: str = "light"
    scale: float = 0.0  # 0: by the display
    decimal: str = "."
    language: str = ""  # the short name of a translation; none: English
    keypad: bool = False
    sounds: bool = False
    full_screen: bool = False
    window: tuple[int, int, int, int] | None = None  # left, top, width, height; not of the maximised one
    maximised: bool = False
    last_person: str = ""
    displays: Mapping[str, Display] = field(default_factory=dict)


def _checked(raw: Mapping[str, Any]) -> Settings:
    """Return settings from a JSON object; whatever is not understood keeps its default."""
    values: dict[str, Any] = {}
    kinds = {
        "ground": str,
        "decimal": str,
        "language": str,
        "last_person": str,
        "keypad": bool,
        "sounds": bool,
        "full_screen": bool,
        "maximised": bool,
    }
    for name, kind in kinds.items():
        if isinstance(raw.get(name), kind):
            values[name] = raw[name]
    if values.get("ground") not in ("light", "dark", "contrast"):
        values.pop("ground", None)
    if values.get("decimal") not in (".", ","):
        values.pop("decimal", None)
    scale = raw.get("scale")
    if isinstance(scale, int | float) and (scale == 0 or 1 <= scale <= 3):
        values["scale"] = float(scale)
    window = raw.get("window")
    if isinstance(window, list) and _placed(window):
        values["window"] = tuple(window)
    displays = raw.get("displays")
    if isinstance(displays, dict):
        values["displays"] = {k: d for k, v in displays.items() if (d := _display(v)) is not None}
    return Settings(**values)


def _display(raw: Any) -> Display | None:
    if not isinstance(raw, dict):
        return None
    px, far, size = raw.get("px_per_mm"), raw.get("distance_mm"), raw.get("resolution", [0, 0])
    if not isinstance(px, int | float) or not math.isfinite(px) or not 1 <= px <= 100:
        return None
    if not isinstance(far, int | float) or not 50 <= far <= 10_000:
        far = None
    size = (int(size[0]), int(size[1])) if _pair(size) else (0, 0)
    told: Any = raw.get("alignment")
    alignment = (int(told[0]), int(told[1])) if _pair(told) else None
    return Display(float(px), far, str(raw.get("set_at", "")), size, alignment)


def _placed(raw: list[Any]) -> bool:
    """Return whether left, top, width and height are such as a window can have."""
    whole = len(raw) == 4 and all(type(v) is int and abs(v) <= FARTHEST_PX for v in raw)
    return whole and min(raw[2:]) > 0


def _pair(raw: Any) -> bool:
    return isinstance(raw, list) and len(raw) == 2 and all(isinstance(v, int) for v in raw)


def load(path: Path | None, decimal: str = ".") -> Settings:
    """Return the settings kept in a file; a missing or spoilt file gives the defaults.

    `decimal` is the decimal mark until one is chosen.
    """
    try:
        raw = json.loads(path.read_text(encoding="utf-8")) if path is not None else {}
    except (OSError, ValueError, RecursionError):
        raw = {}
    return _checked({"decimal": decimal, **raw}) if isinstance(raw, dict) else Settings(decimal=decimal)


def local_decimal() -> str:
    """Return the decimal mark of the person's locale, a point where it has neither point nor comma.

    The locale of the process is as before afterwards, since other libraries read numbers by it.
    """
    import locale

    before = locale.setlocale(locale.LC_NUMERIC)
    try:
        locale.setlocale(locale.LC_NUMERIC, "")
        mark = str(locale.localeconv()["decimal_point"])
    except locale.Error:
        return "."
    finally:
        locale.setlocale(locale.LC_NUMERIC, before)
    return mark if mark in (".", ",") else "."


def save(settings: Settings, path: Path | None) -> None:
    """Keep the settings: written beside the old file, then put in its place. Raises OSError."""
    if path is None:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as temporary:
        temporary.write_text(json.dumps(asdict(settings), indent=1, ensure_ascii=False), encoding="utf-8")


def changed(settings: Settings, name: str, value: Any) -> Settings:
    """Return the settings with one value changed; `name` must be one of theirs."""
    if name not in {f.name for f in fields(Settings)}:
        raise KeyError(name)
    values: dict[str, Any] = {name: value}
    return replace(settings, **values)
