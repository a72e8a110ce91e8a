"""Work of a bench check: its session, every lock and every pair kept in order, and its result."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from trainer.desktop.store import Header
from trainer.desktop.work import Effect, Services
from trainer.instrument.refusal import Refusal
from trainer.practice.bench import BenchCheck, Pair
from trainer.practice.items import Answer, Item

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
        from trainer.scoring.reference import ReferenceUncertainty, bench_result
        from trainer.scoring.table import score_people

        check = self.check
        if not check.pairs:
            raise Refusal("no setting was estimated and read, so there is nothing to score")
        per_unit, zeros = check.micrometer.tenths_per_unit, len(check.zeros_tenths)
        uncertainty = ReferenceUncertainty(
            step_tenths=float(check.reference.step * per_unit),
            accuracy_tenths=float(check.reference.accuracy * per_unit),
            zero_u_tenths=check.zero_u_tenths or 0.0,
            zero_df=zeros - 1.0 if zeros > 1 else None,
        )
        answers = services.store.answers(session=self.session_id)
        return bench_result(score_people(answers).people[0], uncertainty)
