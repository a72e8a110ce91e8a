"""Misreads: gross slips, told from interpolation by a rule fixed before the test, and named by signature.

The rule (simulation study in docs/methods/scoring.md): an error above 5 tenths is a misread; so is one
above 3.5 tenths that lies within 2.5 tenths of what a known slip would give. The rule looks at one
reading at a time, so a bad reader cannot move it, and it shaves nothing off a wide but honest spread.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer
from trainer.scoring.errors import MISREAD_TENTHS, Floats, error_tenths, within_division

SUSPECT_TENTHS = 3.5  # the fixed rule
NEAR_SIGNATURE_TENTHS = 2.5  # the fixed rule

KINDS = (
    "graduation",  # one thimble graduation too many or too few
    "turn",  # a whole number of turns: 0.5 mm or 0.025 in as a rule
    "half-millimetre",  # one turn within the whole millimetre: its half line overlooked or imagined
    "wrong-side",  # tenths counted from the upper graduation: 10 - x
    "swapped-digits",  # two neighbouring digits exchanged
    "vernier-line",  # another vernier line than the one that coincides
    "decimal-or-unit",  # decimal point moved, or millimetres taken for inches
    "unexplained",
)
KIND_CODE = {kind: code for code, kind in enumerate(KINDS)}
SLIP_FACTORS = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001, 25.4, 1 / 25.4)
RARER_BY_TENTHS = {
    "wrong-side": 0.5,
    "swapped-digits": 1.0,
    "vernier-line": 1.0,
}  # a commoner slip wins unless it fits this much worse


@dataclass(frozen=True, slots=True)
class Signatures:
    """What the slips of one instrument look like, in tenths.

    `turn_tenths`: one turn. `millimetre_tenths`: the length of a whole millimetre where half
    millimetres have lines of their own, else None. `base_tenths`: the reading at the scale's zero.
    """

    turn_tenths: float
    millimetre_tenths: float | None = None
    base_tenths: float = 0.0
    vernier: bool = False

    @classmethod
    def of(cls, micrometer: Micrometer) -> "Signatures":
        """Return the signatures of a micrometer.

        On a 0.5 mm pitch a missed half-millimetre line and a miscounted turn are both 500 tenths. It is
        called half-millimetre when the answer keeps the whole millimetre of the truth, else turn.
        """
        half_lines = micrometer.unit == "mm" and abs(micrometer.pitch_mm - 0.5) < 1e-9
        return cls(
            turn_tenths=micrometer.turn_tenths,
            millimetre_tenths=2 * micrometer.turn_tenths if half_lines else None,
            base_tenths=float(micrometer.base * micrometer.tenths_per_unit),
            vernier=micrometer.vernier is not None,
        )


# Without a named instrument: 250 tenths divides the turns of both 40 threads per inch and 0.5 mm pitch.
UNNAMED = Signatures(turn_tenths=250.0)


@cache
def signatures(instrument: str | None) -> Signatures:
    """Return the signatures of a catalogue instrument, or general ones for an unknown name or None."""
    if instrument is None or instrument not in catalogue.names():
        return UNNAMED
    return Signatures.of(catalogue.load(instrument))


def is_misread(
    error: Floats, inside_tenths: Floats, *, vernier: bool | NDArray[np.bool_] = False
) -> NDArray[np.bool_]:
    """Return which errors are misreads by the fixed rule.

    `inside_tenths` is the position within its division. Slips of a graduation or more are above 5 tenths
    anyway; between 3.5 and 5 only counting from the wrong side (error 10 - 2x) can be near, and on a
    vernier instrument any line that far off.
    """
    size = np.abs(error)
    suspect = size > SUSPECT_TENTHS
    if not suspect.any():
        return suspect
    near_wrong_side = np.abs(error - (10 - 2 * inside_tenths)) <= NEAR_SIGNATURE_TENTHS
    return np.asarray(suspect & ((size > MISREAD_TENTHS) | near_wrong_side | vernier))


def kinds(truth_tenths: ArrayLike, answer_tenths: ArrayLike, signature: Signatures) -> NDArray[np.int8]:
    """Return the code (index into `KINDS`) of the likeliest slip behind each misread.

    Of the slips that would bring the answer to within 2.5 tenths, the nearest one counts, with a
    handicap for the rarer ones; none near is "unexplained".

    >>> [KINDS[k] for k in kinds([123.2, 7384.0, 52.0, 624.3], [133, 6884, 58, 642], UNNAMED)]
    ['graduation', 'turn', 'wrong-side', 'swapped-digits']
    """
    truth, answer = np.asarray(truth_tenths, float), np.asarray(answer_tenths, float)
    misfits = np.full((len(KINDS), truth.size), np.inf)
    for kind, misfit in _misfits(truth, answer, signature).items():
        fits = misfit <= NEAR_SIGNATURE_TENTHS
        misfits[KIND_CODE[kind]] = np.where(fits, misfit + RARER_BY_TENTHS.get(kind, 0.0), np.inf)
    misfits[KIND_CODE["unexplained"]] = 1e6  # only where nothing else fits
    return np.asarray(np.argmin(misfits, axis=0), np.int8)


def _misfits(truth: Floats, answer: Floats, signature: Signatures) -> dict[str, Floats]:
    """Return how far each answer lies from what each kind of slip would have given."""
    error = error_tenths(answer, truth)
    turns = np.rint(error / signature.turn_tenths)
    off_by_turns = np.where(turns != 0, np.abs(error - turns * signature.turn_tenths), np.inf)
    same_millimetre = np.zeros(truth.shape, bool)
    if signature.millimetre_tenths is not None:
        intended = truth + turns * signature.turn_tenths
        length = signature.millimetre_tenths
        same_millimetre = np.floor(intended / length) == np.floor(truth / length)
    misfits = {
        "graduation": np.abs(np.abs(error) - 10.0),
        "turn": np.where(same_millimetre, np.inf, off_by_turns),
        "half-millimetre": np.where(same_millimetre, off_by_turns, np.inf),
        "wrong-side": np.abs(error - (10 - 2 * within_division(truth))),
        "swapped-digits": _swap_misfit(truth + signature.base_tenths, answer + signature.base_tenths),
        "decimal-or-unit": _factor_misfit(truth + signature.base_tenths, answer + signature.base_tenths),
    }
    if signature.vernier:
        misfits["vernier-line"] = np.where(np.abs(error) < 7.5, np.abs(error - np.rint(error)), np.inf)
    return misfits


def _swap_misfit(truth: Floats, answer: Floats) -> Floats:
    """Return the least distance to the truth after exchanging two neighbouring digits of the answer."""
    sound = (answer >= 0) & (answer < 1e9) & (np.abs(answer - np.rint(answer)) < 0.25)
    whole = np.where(sound, np.rint(answer), 0.0).astype(np.int64)
    best = np.full(truth.shape, np.inf)
    for place in (1, 10, 100, 1000, 10_000):
        low, high = whole // place % 10, whole // (10 * place) % 10
        meant = whole + (low - high) * 9 * place  # the answer with the two digits put back
        best = np.where(sound & (low != high), np.minimum(best, np.abs(meant - truth)), best)
    return best


def _factor_misfit(truth: Floats, answer: Floats) -> Floats:
    """Return the least distance to the truth after undoing a moved point or a mistaken unit."""
    best = np.full(truth.shape, np.inf)
    for factor in SLIP_FACTORS:
        # a shorter number has lost digits: half a tenth of it is worth more in the truth
        lost = (0.5 / factor - 0.5) if 0.02 < factor < 1 else 0.0
        misfit = np.maximum(np.abs(answer / factor - truth) - lost, 0.0)
        # below 100 tenths many small answers would fit by accident
        best = np.where((np.abs(truth) >= 100) & (misfit < best), misfit, best)
    return best
