"""What is told of one answer: the truth, the error, and where to look."""

from dataclasses import asdict, dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np

from trainer.instrument.micrometer import Micrometer
from trainer.instrument.sentence import joined
from trainer.practice.asking import thimble_line
from trainer.practice.items import Answer, Item
from trainer.practice.kind import length_words
from trainer.practice.overlap import judged, overlap_share, truth_of
from trainer.practice.session import Session
from trainer.practice.turning import approach_of
from trainer.practice.vernier import coincidence
from trainer.practice.wording import figure, listed, percent
from trainer.practice.words import tell
from trainer.practice.worksheet import VerdictRisk, accept_chance, normal_within, population_risk, runs
from trainer.scoring import misreads
from trainer.scoring.words import misread_kind

RISK_SEED = 106  # any number: the risk of the same figures is the same each time it is told
NEAR_TENTHS = 0.55  # a whole tenth cannot come nearer than half of one; a hair more is not an error


@dataclass(frozen=True, slots=True)
class Told:
    """The feedback on one answer.

    `right` is None where there is nothing to compare. `error_tenths` is answer minus truth. `lines` are
    sentences; `figures` the same in plain values, for a picture or for JSON.
    """

    item: int
    outcome: str
    right: bool | None
    truth: str
    error_tenths: float | None
    lines: tuple[str, ...] = ()
    figures: dict[str, Any] = field(default_factory=dict)


def told(session: Session) -> Told | None:
    """Return the feedback on the item just answered, or None where none is due."""
    item = session.item
    if session.phase != "feedback" or item is None:
        return None
    if item.asks == "verdict":
        return _of_verdict(session, item)
    return told_of(item, session.answers[-1], session.micrometer)


def told_of(item: Item, answer: Answer, micrometer: Micrometer) -> Told:
    """Return the feedback on one answer; that on a verdict needs its whole run (`told`)."""
    match item.asks:
        case "vernier" | "self-check":
            return _of_vernier(item, answer, micrometer)
        case "judge":
            return _of_judgement(item, answer, micrometer)
        case "size-it":
            return _of_size(item, answer, micrometer)
        case "set-to" | "set-line":
            return _of_setting(item, answer, micrometer)
    return _of_reading(item, answer, micrometer)


def _error(item: Item, answer: Answer) -> float | None:
    return None if answer.answer_tenths is None else answer.answer_tenths - item.position_tenths


def _error_words(error_tenths: float, micrometer: Micrometer) -> str:
    length = length_words(abs(error_tenths), micrometer, signed=False)
    entry = "told.error.high" if error_tenths > 0 else "told.error.low"
    return tell(entry, tenths=f"{abs(error_tenths):.1f}", length=length)


def _of_reading(item: Item, answer: Answer, micrometer: Micrometer) -> Told:
    error = _error(item, answer)
    truth = f"{micrometer.format_reading(item.position_tenths)} {micrometer.unit}"
    lines: list[str] = []
    figures: dict[str, Any] = {}
    if "zero_tenths" in item.extra:
        zero = item.extra["zero_tenths"]
        figures["zero_tenths"] = zero
        scale = micrometer.format_reading(item.extra["scale_tenths"])
        entry = "told.zero.off" if zero > 0 else "told.zero.add"
        lines.append(tell(entry, scale=scale, zero=figure(zero), by=f"{zero if zero > 0 else -zero:.1f}"))
    if error is not None and _is_misread(error, item.position_tenths):
        signature = misreads.signatures(micrometer.name)
        code = misreads.kinds([item.position_tenths], [item.position_tenths + error], signature)[0]
        figures["misread"] = misreads.KINDS[code]
        lines.append(tell("told.misread", kind=misread_kind(misreads.KINDS[code])))
    elif error is not None and abs(error) > NEAR_TENTHS:
        lines.append(tell("told.read", error=_error_words(error, micrometer)))
    if item.asks == "half-line" and item.extra.get("edge_offset_mm"):
        lines.append(_half_line_words(item, micrometer))
    right = None if error is None else abs(error) <= NEAR_TENTHS
    return Told(item.number, answer.outcome, right, truth, error, tuple(lines), figures)


def _is_misread(error_tenths: float, truth_tenths: float) -> bool:
    return bool(misreads.is_misread(np.array([error_tenths]), np.array([truth_tenths % 10]))[0])


def _half_line_words(item: Item, micrometer: Micrometer) -> str:
    line = thimble_line(item.position_tenths, micrometer)
    before = line > micrometer.divisions / 2
    return tell("told.half-line.before" if before else "told.half-line.past", line=line)


def _of_vernier(item: Item, answer: Answer, micrometer: Micrometer) -> Told:
    stands = coincidence(item.position_tenths, micrometer)
    said = None if answer.answer_tenths is None else round(answer.answer_tenths % 10)
    best = [str(line) for line in stands.best]
    truth = tell("told.line", lines=listed(best, "or"))
    right = None if said is None else said in stands.best or (said == 10 and 0 in stands.best)
    lines = []
    if stands.tie:
        lines.append(tell("told.vernier.tie", lines=listed(best)))
    if said is not None and not right:
        beside = stands.beside(said)
        offsets = [
            tell("told.vernier.offset", line=line, offset=figure(offset)) for line, offset in beside.items()
        ]
        lines.append(tell("told.vernier.offsets", offsets=joined(offsets), truth=truth))
    figures = {
        "best_lines": list(stands.best),
        "offsets_tenths": {str(k): v for k, v in enumerate(stands.offsets_tenths)},
    }
    return Told(
        item.number,
        answer.outcome,
        right,
        truth,
        _error(item, answer),
        tuple(lines),
        figures,
    )


def _of_judgement(item: Item, answer: Answer, micrometer: Micrometer) -> Told:
    offset, truth = float(item.extra["offset_tenths"]), truth_of(item)
    limit = length_words(item.extra["tolerance_tenths"], micrometer, signed=False)
    said = judged(answer.typed) if answer.outcome == "answered" else None
    share = overlap_share(offset, micrometer)
    lines = [tell("told.judge.offset", offset=length_words(offset, micrometer), limit=limit)]
    lines.append(tell("told.overlap", share=percent(share)) if share else tell("told.overlap.judge.none"))
    if said is not None and said != truth:
        lines.append(tell("told.false-accept" if truth == "out" else "told.false-reject"))
    figures = {"offset_tenths": offset, "overlap": share, "said": said}
    return Told(
        item.number,
        answer.outcome,
        None if said is None else said == truth,
        truth,
        None,
        tuple(lines),
        figures,
    )


def _of_size(item: Item, answer: Answer, micrometer: Micrometer) -> Told:
    offset, error = float(item.extra["offset_tenths"]), _error(item, answer)
    share = overlap_share(offset, micrometer)
    lines = [tell("told.overlap", share=percent(share)) if share else tell("told.overlap.none")]
    if error is not None and abs(error) > NEAR_TENTHS:
        lines.append(tell("told.judged", error=_error_words(error, micrometer)))
    truth = length_words(offset, micrometer)
    right = None if error is None else abs(error) <= NEAR_TENTHS
    figures = {"offset_tenths": offset, "overlap": share}
    return Told(item.number, answer.outcome, right, truth, error, tuple(lines), figures)


def _of_setting(item: Item, answer: Answer, micrometer: Micrometer) -> Told:
    error = _error(item, answer)
    truth = f"{micrometer.format_reading(item.position_tenths)} {micrometer.unit}"
    lines = []
    if error is not None:
        lines.append(tell("told.set", error=_error_words(error, micrometer)))
    approach = approach_of(answer.typed, answer.extra)
    if approach is not None:
        way, back = approach
        times = tell({0: "told.turns.none", 1: "told.turns.one"}.get(back, "told.turns"), n=back)
        lines.append(tell(f"told.way.{way}", times=times))
    right = None if error is None else abs(error) <= NEAR_TENTHS
    return Told(item.number, answer.outcome, right, truth, error, tuple(lines), dict(answer.extra))


@lru_cache(maxsize=8)  # a window tells the same feedback once a redraw
def _risk(
    mpe_tenths: float, blocks: tuple[float, ...], micrometer: Micrometer, bias_tenths: float,
    spread_tenths: float,
) -> VerdictRisk:  # fmt: skip
    """Return the risks of such a person's verdicts on instruments like those of the drill."""
    chance = np.random.default_rng(RISK_SEED)
    return population_risk(mpe_tenths, blocks, micrometer, bias_tenths, spread_tenths, chance)


def _risk_words(risk: VerdictRisk, limit: str) -> str:
    accept, reject = percent(risk.false_accept, 1), percent(risk.false_reject, 1)
    return tell(
        "told.risk", n=risk.instruments, conforming=percent(risk.conforming), limit=limit,
        accept=accept, reject=reject,
    )  # fmt: skip


def _of_verdict(session: Session, item: Item) -> Told:
    """Return what the run was in truth, and what this person's reading error does to such a verdict."""
    run = next(run for run in runs(session.items, session.answers, session.micrometer)
               if run.run == item.extra["run"])  # fmt: skip
    errors = np.array([error for row in run.rows for error in row.reading_errors_tenths])
    worst = max(run.true_errors_tenths, key=abs)
    limit = length_words(run.mpe_tenths, session.micrometer, signed=False)
    lines = [
        run.effect(),
        tell("told.largest", error=length_words(worst, session.micrometer), limit=limit),
    ]
    figures: dict[str, Any] = {
        "said": run.said,
        "truth": run.truth,
        "recorded": run.recorded,
        "rows": [asdict(row) for row in run.rows],
    }
    if len(errors) > 1:
        bias, spread = float(errors.mean()), float(errors.std(ddof=1))
        accepts = accept_chance(run.true_errors_tenths, bias, spread, normal_within(run.mpe_tenths))
        wrong = 1 - accepts if run.truth == "accept" else accepts
        figures |= {"bias_tenths": bias, "spread_tenths": spread, "wrong_verdict_chance": wrong}
        lines.append(tell("told.repeated", mean=figure(bias), spread=f"{spread:.1f}", share=percent(wrong)))
        blocks = tuple(row.block_tenths for row in run.rows)
        risk = _risk(run.mpe_tenths, blocks, session.micrometer, bias, spread)
        figures["risk"] = asdict(risk)
        lines.append(_risk_words(risk, limit))
    right = None if run.said is None else run.said == run.truth
    return Told(item.number, session.answers[-1].outcome, right, run.truth, None, tuple(lines), figures)
