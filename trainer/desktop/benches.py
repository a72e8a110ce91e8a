"""Work of a bench check: its session, every lock and every pair kept in order, its result, going on."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from trainer.desktop.store import Header
from trainer.desktop.words import say
from trainer.desktop.work import Effect, Services
from trainer.instrument.refusal import Refusal
from trainer.practice import bench as rules
from trainer.practice.bench import BenchCheck, Pair
from trainer.practice.items import Answer, Item

if TYPE_CHECKING:
    from trainer.desktop.results import Reading
    from trainer.scoring.reference import BenchResult

DRILL = "bench-check"


@dataclass(frozen=True)
class BeginBench(Effect):
    """Keep a new session without items: the settings of the thimble are not known before they are read."""

    person: Any
    check: BenchCheck
    header: Mapping[str, Any]  # station, program_version, started_at

    def run(self, services: Services) -> object:
        """Return what the session is known by."""
        check = self.check
        plan = {
            "name": DRILL,
            "title": "Bench check",
            "drill": DRILL,
            "instrument": check.instrument,
            "items": check.wanted,
            "reference": check.reference.kind,
            "step": str(check.reference.step),
            "accuracy": str(check.reference.accuracy),
        }
        header = Header(
            instrument=check.instrument, drill=DRILL, for_record=True, seed=0, drawing_version="", viewing={},
            px_per_mm=None, **self.header,
        )  # fmt: skip
        return services.store.begin_session(self.person, plan, [], header)


@dataclass(frozen=True)
class KeepBench(Effect):
    """Keep what one event added to a bench check."""

    session_id: Any
    before: BenchCheck
    after: BenchCheck
    at: str

    def run(self, services: Services) -> object:
        """Return the effect itself, so that the screen knows which step is safe."""
        before, after, store = self.before, self.after, services.store
        if len(after.zeros_tenths) > len(before.zeros_tenths):
            store.note(self.session_id, "zero-observed", self.at, {"tenths": after.zeros_tenths[-1]})
        if after.estimate is not None and before.estimate is None:
            locked = {"typed": after.estimate[0], "tenths": after.estimate[1]}
            store.note(self.session_id, "estimate-locked", self.at, locked)
        if after.withdrawn > before.withdrawn:
            store.note(self.session_id, "estimate-withdrawn", self.at, "")
        for pair in after.pairs[len(before.pairs) :]:
            self._pair(store, pair)
        return self

    def _pair(self, store: Any, pair: Pair) -> None:
        extra = {"reference_typed": pair.reference_typed, "zero_tenths": self.after.zero_tenths}
        item = Item(pair.number, pair.reference_tenths, "full-reading", extra)
        answer = Answer(pair.number, pair.typed, pair.estimate_tenths, "answered", pair.seconds, pair.at)
        store.deal_more(self.session_id, [item.to_dict()])
        store.save_answer(self.session_id, answer)


@dataclass(frozen=True)
class ScoreBench(Effect):
    """Score a bench check with the part of its reference accounted for."""

    session_id: Any
    check: BenchCheck

    def run(self, services: Services) -> object:
        """Return a scoring.reference.BenchResult."""
        if not self.check.pairs:
            raise Refusal(say("bench.nothing"))
        return scored(services.store, self.session_id, self.check)


def scored(store: Any, session_id: Any, check: BenchCheck) -> "BenchResult":
    """Score the pairs of a bench check; there must be one."""
    from trainer.scoring.reference import ReferenceUncertainty, bench_result
    from trainer.scoring.table import score_people

    per_unit, zeros = check.micrometer.tenths_per_unit, len(check.zeros_tenths)
    uncertainty = ReferenceUncertainty(
        step_tenths=float(check.reference.step * per_unit),
        accuracy_tenths=float(check.reference.accuracy * per_unit),
        zero_u_tenths=check.zero_u_tenths or 0.0,
        zero_df=zeros - 1.0 if zeros > 1 else None,
    )
    return bench_result(score_people(store.answers(session=session_id)).people[0], uncertainty)


@dataclass(frozen=True)
class OpenBench:
    """A bench check that was left open; `check` stands where it can be gone on with."""

    session_id: Any
    before: BenchCheck  # with an estimate that was locked and never compared
    check: BenchCheck
    begun: str

    def going_on(self, at_s: float, at: str) -> tuple[BenchCheck, tuple[KeepBench, ...]]:
        """Return the check as it goes on, and what is to be kept of that."""
        check = replace(self.check, since_s=at_s)
        lost = check.withdrawn > self.before.withdrawn
        return check, (KeepBench(self.session_id, self.before, check, at),) if lost else ()


@dataclass(frozen=True)
class PastBench:
    """A bench check as it was kept: its readings, and its result where there is one."""

    session_id: Any
    person: str
    started_at: str
    ended: str | None
    check: BenchCheck
    readings: "tuple[Reading, ...]"
    result: "BenchResult | None"


@dataclass(frozen=True)
class LoadBench(Effect):
    """Read a bench check of the past with its readings, and score it."""

    session_id: Any

    def run(self, services: Services) -> object:
        """Return a PastBench."""
        from trainer.desktop.results import Reading, misread_of

        stored = services.store.session(self.session_id)
        check = check_of(stored)
        readings = []
        for pair in check.pairs:
            error = pair.estimate_tenths - pair.reference_tenths
            kind = misread_of(pair.reference_tenths, pair.estimate_tenths, check.instrument)
            readings.append(
                Reading(
                    pair.number, pair.reference_tenths, pair.estimate_tenths, error, "answered",
                    pair.seconds, pair.typed, kind,
                )
            )  # fmt: skip
        result = scored(services.store, self.session_id, check) if check.pairs else None
        ended = getattr(stored, "ended_how", None)
        started_at = str(stored.header.started_at)
        person: Any = getattr(stored, "person", None)
        return PastBench(self.session_id, person.name, started_at, ended, check, tuple(readings), result)


def check_of(stored: Any) -> BenchCheck:
    """Return a bench check as its session was kept; an estimate without its reference is not in it."""
    plan = stored.plan
    reference = rules.Reference(plan["reference"], Decimal(plan["step"]), Decimal(plan["accuracy"]))
    check = rules.start(str(plan["instrument"]), reference, int(plan["items"]), 0.0)
    notes = [note if isinstance(note, tuple) else (note.kind, note.at, note.detail) for note in stored.notes]
    zeros = tuple(float(detail["tenths"]) for kind, _, detail in notes if kind == "zero-observed")
    items = {_of(item, "number"): item for item in stored.items}
    pairs = tuple(_pair(items[_of(answer, "number")], answer) for answer in stored.answers)
    locked = any(kind == "estimate-locked" for kind, _, _ in notes)
    phase: rules.Phase = "estimate" if pairs or locked else check.phase
    withdrawn = sum(kind == "estimate-withdrawn" for kind, _, _ in notes)
    return replace(check, zeros_tenths=zeros, pairs=pairs, phase=phase, withdrawn=withdrawn)


def _of(source: Any, name: str) -> Any:
    return source[name] if isinstance(source, Mapping) else getattr(source, name)


def _pair(item: Any, answer: Any) -> Pair:
    return Pair(
        int(_of(answer, "number")),
        str(_of(answer, "typed")),
        float(_of(answer, "answer_tenths")),
        str((_of(item, "extra") or {}).get("reference_typed", "")),
        float(_of(item, "position_tenths")),
        float(_of(answer, "seconds") or 0.0),
        str(_of(answer, "at")),
    )


def open_bench(stored: Any) -> OpenBench:
    """Return an unfinished bench check to go on with: an estimate locked but not compared is given up.

    The thimble may have moved since, so that estimate would be compared with another setting.
    """
    check = check_of(stored)
    kinds = [note[0] if isinstance(note, tuple) else note.kind for note in stored.notes]
    lost = kinds.count("estimate-locked") - len(check.pairs) - check.withdrawn
    after = replace(check, withdrawn=check.withdrawn + max(0, lost))
    return OpenBench(stored.id, check, after, str(stored.header.started_at))
