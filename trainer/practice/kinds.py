"""The kinds of drill, by name."""

from trainer.practice import calibration, overlap, readings, traps, turning, vernier
from trainer.practice.kind import Kind, Setting

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        readings.TENTHS,
        readings.FULL_READING,
        traps.HALF_LINE,
        traps.ZERO_OFFSET,
        traps.ZERO_LOOK,
        vernier.VERNIER,
        vernier.SELF_CHECK,
        vernier.ESTIMATE,
        turning.SET_TO,
        turning.SET_LINE,
        overlap.JUDGE,
        overlap.SIZE_IT,
        calibration.CALIBRATION,
        calibration.BLOCK_READING,
        calibration.BLOCK_ERROR,
        calibration.VERDICT,
    )
}

DRILLS: dict[str, Kind] = {name: kind for name, kind in KINDS.items() if kind.deal is not None}
"""The kinds that a plan may name; the others are questions within one of these."""

SETTINGS: dict[str, Setting] = {s.name: s for kind in DRILLS.values() for s in kind.settings}
"""Every field of a plan that belongs to some drills only."""


def drills_with(setting: str) -> list[str]:
    """Return the names of the drills that know a setting."""
    return [name for name, kind in DRILLS.items() if any(s.name == setting for s in kind.settings)]
