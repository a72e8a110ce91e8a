"""Simulated readers: invented people with known bias, spread, habits and slips, for tests and the demo.

A reader sees a position, judges it with a curve, noise and a bias, rounds to a tenth (or is pulled to the
nearest 0, 5 or 10), and now and then slips. Every figure that scoring estimates is known beforehand.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from trainer.scoring.errors import Floats, within_division
from trainer.scoring.interpolation import power_curve
from trainer.scoring.misreads import UNNAMED, Signatures, is_misread

CALM = 0.4  # of the noise of an uneven reader, the part that is left at the graduations


@dataclass(frozen=True)
class SimulatedReader:
    """A reader whose habits are known.

    `bias_tenths`: constant error. `sigma_tenths`: standard deviation of the noise before rounding.
    `exponent`, `cycles`: curve of proportion judgement (1: none). `pull`: share of readings rounded to the
    nearest 0, 5 or 10 tenths instead of to a tenth. `uneven`: noise largest in the middle of the division.
    `tails_df`: noise of Student's t with the same standard deviation (None: normal). `misread_rates`: share
    of readings with each kind of slip. `drift_tenths_per_100`: change of the bias within a session.
    `session_sd_tenths`: spread of the bias from session to session. `step_tenths`: 1, or 0.5 for a reader
    who gives half tenths.
    """

    name: str
    bias_tenths: float = 0.0
    sigma_tenths: float = 0.5
    exponent: float = 1.0
    cycles: int = 1
    pull: float = 0.0
    uneven: bool = False
    tails_df: float | None = None
    misread_rates: Mapping[str, float] = field(default_factory=dict)
    drift_tenths_per_100: float = 0.0
    session_sd_tenths: float = 0.0
    step_tenths: float = 1.0

    def answers(
        self,
        truth_tenths: Floats,
        rng: np.random.Generator,
        *,
        clipped: bool = False,
        signature: Signatures = UNNAMED,
    ) -> Floats:
        """Return this reader's full readings, in tenths, of one session with the given true positions.

        `clipped` keeps answers within the pair of lines around the truth, as when only the tenths
        between a given pair are asked for.
        """
        truth = np.asarray(truth_tenths, float)
        inside = within_division(truth)
        shift = self.bias_tenths + self.session_sd_tenths * rng.standard_normal()
        place = np.arange(len(truth))
        seen = inside + shift + self.drift_tenths_per_100 * place / 100
        seen += 10 * power_curve(inside / 10, self.exponent, self.cycles)
        seen += self.noise(inside, rng)
        pulled = rng.random(len(truth)) < self.pull
        answer = np.where(pulled, 5 * np.rint(seen / 5), self.step_tenths * np.rint(seen / self.step_tenths))
        if clipped:
            answer = np.clip(answer, 0.0, 10.0)
        return self._slipped(truth - inside + answer, truth, rng, signature)

    def noise(self, inside: Floats, rng: np.random.Generator) -> Floats:
        """Return the noise of the judgement at positions within the division."""
        size = inside.shape
        if self.tails_df is None:
            noise = rng.standard_normal(size)
        else:
            noise = rng.standard_t(self.tails_df, size) * np.sqrt(1 - 2 / self.tails_df)
        scale = self.sigma_tenths * (CALM + (1 - CALM) * np.sin(np.pi * inside / 10) if self.uneven else 1.0)
        return np.asarray(noise * scale)

    def _slipped(
        self, answer: Floats, truth: Floats, rng: np.random.Generator, signature: Signatures
    ) -> Floats:
        """Return the answers with each kind of slip put into its share of them."""
        chance = rng.random(len(answer))
        sign = rng.choice((-1.0, 1.0), len(answer))
        low = 0.0
        for kind, rate in self.misread_rates.items():
            hit = (chance >= low) & (chance < low + rate)
            answer = np.where(hit, slip(kind, answer, truth, sign, signature), answer)
            low += rate
        return answer

    def true_values(self, *, clipped: bool = False, readings: int = 2_000_000, seed: int = 1) -> "TrueValues":
        """Return bias, spread and root mean square that endless scoring would find, misreads set apart.

        By simulation over evenly dealt positions, without slips, drift and sessions; the standard error
        of the spread is about 0.05 %.
        """
        rng = np.random.default_rng(seed)
        plain = SimulatedReader(
            self.name,
            self.bias_tenths,
            self.sigma_tenths,
            self.exponent,
            self.cycles,
            self.pull,
            self.uneven,
            self.tails_df,
            step_tenths=self.step_tenths,
        )
        inside = 10 * (np.arange(readings) + rng.random(readings)) / readings
        error = plain.answers(inside, rng, clipped=clipped) - inside
        clean = ~is_misread(error, inside)
        kept = error[clean]
        near = np.abs(kept) <= 1
        tenth = np.minimum(inside[clean].astype(int), 9)
        by_tenth = np.bincount(tenth, weights=kept) / np.bincount(tenth)
        return TrueValues(
            float(kept.mean()),
            float(kept.std()),
            float(np.sqrt(np.mean(kept**2))),
            float(near.mean()),
            tuple(by_tenth.tolist()),
        )


@dataclass(frozen=True, slots=True)
class TrueValues:
    """What a simulated reader's score tends to: the judge of estimates and intervals."""

    bias_tenths: float
    spread_tenths: float
    rms_tenths: float
    within_one_tenth: float
    bias_by_tenth: tuple[float, ...]


def slip(kind: str, answer: Floats, truth: Floats, sign: Floats, signature: Signatures) -> Floats:
    """Return what each answer becomes by a slip of one kind; `sign` says up or down where both can be."""
    if kind == "graduation":
        return answer + 10 * sign
    if kind == "turn":
        return answer + signature.turn_tenths * sign
    if kind == "half-millimetre":
        length = signature.millimetre_tenths or 2 * signature.turn_tenths
        in_second_half = np.mod(truth, length) >= length / 2
        return answer + np.where(in_second_half, -length / 2, length / 2)
    if kind == "wrong-side":
        base = truth - within_division(truth)
        return np.asarray(2 * base + 10 - answer)
    if kind == "swapped-digits":
        whole = np.rint(answer + signature.base_tenths)
        last, before = np.mod(whole, 10), np.mod(np.floor(whole / 10), 10)
        return np.asarray(answer + 9 * (last - before), float)
    if kind == "decimal-or-unit":
        return 10 * (answer + signature.base_tenths) - signature.base_tenths
    if kind == "vernier-line":
        return answer + 4 * sign
    raise ValueError(f"there is no slip of kind {kind!r}")


def stratified_positions(readings: int, rng: np.random.Generator, *, turns: int = 40) -> Floats:
    """Return true positions dealt evenly over the tenths in blocks of ten, uniform within each."""
    blocks = -(-readings // 10)
    tenths = rng.permuted(np.tile(np.arange(10), (blocks, 1)), axis=1).ravel()[:readings]
    line = rng.integers(0, 50 * turns, readings)
    return np.asarray(10.0 * line + tenths + rng.random(readings), float)


# The six readers of the coverage study; sizes of habits as in docs/methods/scoring.md.
SIX_READERS = (
    SimulatedReader("A sharp", sigma_tenths=0.15),
    SimulatedReader("B biased", bias_tenths=0.2, sigma_tenths=0.5),
    SimulatedReader("C cyclic", exponent=0.75, sigma_tenths=0.6),
    SimulatedReader("D digit habit", pull=0.25, sigma_tenths=0.6),
    SimulatedReader("E uneven", bias_tenths=0.5, sigma_tenths=0.95, uneven=True),
    SimulatedReader("F long tails", sigma_tenths=0.8, tails_df=4),
)
