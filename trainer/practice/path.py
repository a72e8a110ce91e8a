"""The training path: the shipped drills in the order in which they are best taken, up to the check."""

from typing import TYPE_CHECKING

from trainer.practice.wording import figure
from trainer.practice.words import tell

if TYPE_CHECKING:
    from trainer.scoring.person import PersonScore

PATH = (
    "first-tenths",
    "half-tenths",
    "weak-tenths",
    "full-reading",
    "half-line",
    "quick-reading",
    "weak-spots",
    "depth-reading",
    "zero-offset",
    "vernier",
    "self-check",
    "set-line",
    "set-to",
    "size-it",
    "judge",
    "calibration",
    "calibration-by-hand",
    "poor-light",
    "worn-lines",
    "eye-aside",
    "out-of-focus",
    "loupe",
    "brief-look",
    "true-size",
    "check",
)
"""Stems of shipped plans; each is shipped as STEM-metric and STEM-inch."""

BIAS_LIMIT_TENTHS, SPREAD_LIMIT_TENTHS = 0.5, 1.0  # the usual criteria of a sign-off
SLIPS_LIMIT = 0.01  # each slip costs a sign-off at 5 % fifty readings more (docs/methods/signoff.md)


def stem_of(name: str) -> str:
    """Return a plan's name without its unit.

    >>> stem_of("full-reading-metric"), stem_of("mine")
    ('full-reading', 'mine')
    """
    for unit in ("-metric", "-inch"):
        name = name.removesuffix(unit)
    return name


def plan_name(stem: str, like: str) -> str:
    """Return the shipped plan of a stem, in the unit of another plan's name; metric where it has none.

    >>> plan_name("half-line", "full-reading-inch")
    'half-line-inch'
    """
    return f"{stem}-inch" if like.endswith("-inch") else f"{stem}-metric"


def next_on_path(stem: str) -> str:
    """Return the stem that follows on the path; a plan that is not on it leads to whole readings.

    >>> next_on_path("first-tenths"), next_on_path("check"), next_on_path("mine")
    ('half-tenths', 'check', 'full-reading')
    """
    if stem not in PATH:
        return "check" if stem.startswith("check") else "full-reading"
    return PATH[min(PATH.index(stem) + 1, len(PATH) - 1)]


def not_ready(score: "PersonScore") -> tuple[str, ...]:
    """Return what still speaks against taking a check, one sentence each; nothing where somebody is ready.

    This is advice on practice, not a verdict: only a check counts, and what is then shown is decided by
    the criteria of the sign-off.
    """
    found = []
    if score.provisional:
        found.append(tell("ready.few.one" if score.used == 1 else "ready.few", n=score.used))
    bias, spread = score.bias_tenths, score.spread_tenths
    if bias.value is not None and abs(bias.value) >= BIAS_LIMIT_TENTHS:
        found.append(tell("ready.bias", bias=figure(bias.value), limit=f"{BIAS_LIMIT_TENTHS:g}"))
    if spread.value is not None and spread.value >= SPREAD_LIMIT_TENTHS:
        found.append(tell("ready.spread", spread=f"{spread.value:.1f}", limit=f"{SPREAD_LIMIT_TENTHS:g}"))
    if score.misreads.total > SLIPS_LIMIT * score.readings:
        total = score.misreads.total
        found.append(
            tell("ready.misreads.one" if total == 1 else "ready.misreads", n=total, of=score.readings)
        )
    return tuple(found)
