"""Make the shipped sample: `python sessions/recorded/make_sample.py [FOLDER]`.

An invented department: the inspection bench of a pump-repair shop, six inspectors by number, half a year of
drills (January to June 2026), guarded checks, two sign-offs, one bench check, one printed sheet. All people
and readings are invented. The seed fixes every reading; keys and identities are new each time.
"""

import dataclasses
import json
import secrets
import sys
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np

from trainer import __version__
from trainer.commands import bench as bench_command
from trainer.commands import mark as mark_command
from trainer.commands import sheet as sheet_command
from trainer.commands import sitting
from trainer.drawing.painter import DRAWING_VERSION
from trainer.drawing.viewing import Viewing
from trainer.instrument import catalogue
from trainer.practice import bench, placement, plans, sheets
from trainer.practice import session as rules
from trainer.practice.asking import asked, sight
from trainer.practice.deal import deal
from trainer.practice.plan import Plan
from trainer.records import accounts, office
from trainer.records import sheets as kept_sheets
from trainer.records.archive import Archive
from trainer.records.sample import close_as_sample
from trainer.records.values import SessionHeader
from trainer.reports import certificate
from trainer.reports import sheets as printed
from trainer.scoring.misreads import signatures
from trainer.scoring.simulated import SimulatedReader
from trainer.signoff import accounts as account_rules
from trainer.signoff.criteria import find

SEED = 20_260_105
FIRST_DAY = datetime(2026, 1, 5, 7, 30, tzinfo=UTC)  # a Monday
WEEKS = 24
PX_PER_MM, DISTANCE_MM = 24.0, 500.0
ARCHIVE = "pump-shop.sqlite"
CRITERION = "first-level-metric"
STATION = "inspection bench (invented)"


@dataclasses.dataclass(frozen=True)
class Inspector:
    """An invented inspector: how they read in the first week and in the last, and when they joined."""

    number: int
    first: SimulatedReader
    last: SimulatedReader
    instrument: str = "metric"
    joins_week: int = 0
    other_drills: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Return the name in the archive."""
        return f"Inspector {self.number}"

    def reader(self, week: int) -> SimulatedReader:
        """Return the reader of a week; skill nears its last value, half of the way every five weeks."""
        share = 0.5 ** (max(0, week - self.joins_week) / 5)

        def between(field: str) -> float:
            return share * getattr(self.first, field) + (1 - share) * getattr(self.last, field)

        return dataclasses.replace(
            self.last,
            bias_tenths=between("bias_tenths"),
            sigma_tenths=between("sigma_tenths"),
            pull=between("pull"),
        )


def read_as(**habits: Any) -> SimulatedReader:
    """Return a reader with a small difference from day to day."""
    return SimulatedReader("invented", session_sd_tenths=0.08, **habits)


INSPECTORS = (
    Inspector(1, read_as(bias_tenths=0.3, sigma_tenths=0.8), read_as(bias_tenths=0.08, sigma_tenths=0.4),
              other_drills=("vernier-metric", "judge-metric", "set-line-metric")),
    Inspector(2, read_as(bias_tenths=1.0, sigma_tenths=0.9), read_as(bias_tenths=0.15, sigma_tenths=0.5),
              other_drills=("half-line-metric", "judge-metric")),
    Inspector(3, read_as(pull=0.7, sigma_tenths=0.8), read_as(pull=0.3, sigma_tenths=0.6),
              other_drills=("poor-light-metric",)),
    Inspector(4, read_as(sigma_tenths=0.7),
              read_as(sigma_tenths=0.5, misread_rates={"half-millimetre": 0.03, "graduation": 0.02}),
              other_drills=("half-line-metric", "vernier-metric")),
    Inspector(5, read_as(bias_tenths=0.6, sigma_tenths=1.3), read_as(bias_tenths=0.2, sigma_tenths=0.6),
              joins_week=15),
    Inspector(6, read_as(bias_tenths=-0.5, sigma_tenths=0.7), read_as(bias_tenths=-0.5, sigma_tenths=0.5),
              instrument="inch", other_drills=("judge-inch", "eye-aside-inch")),
)  # fmt: skip


class Clock:
    """The department's time; it moves when something is done."""

    def __init__(self) -> None:
        """Begin on the first day."""
        self.moment = FIRST_DAY

    def utc(self) -> datetime:
        """Return the present moment."""
        return self.moment

    def iso(self) -> str:
        """Return the present moment, ISO 8601."""
        return self.moment.isoformat(timespec="milliseconds")

    def seconds(self) -> float:
        """Return seconds since the first day."""
        return (self.moment - FIRST_DAY).total_seconds()

    def go_on(self, **span: float) -> None:
        """Let time pass."""
        self.moment += timedelta(**span)

    def next_morning(self) -> None:
        """Go to eight o'clock of the next day on which the shop works."""
        self.moment = self.moment.replace(hour=8, minute=0, second=0, microsecond=0) + timedelta(days=1)
        while self.moment.weekday() > 4:
            self.moment += timedelta(days=1)

    def go_to(self, week: int, day: int = 0, hour: float = 0.0) -> None:
        """Go to a day of a week, unless it is later already."""
        self.moment = max(self.moment, FIRST_DAY + timedelta(weeks=week, days=day, hours=hour))


def seen(plan: Plan) -> dict[str, Any]:
    """Return the viewing conditions of a session."""
    return Viewing.from_dict({**plan.viewing, "px_per_mm": PX_PER_MM, "distance_mm": DISTANCE_MM}).to_dict()


def take(
    archive: Archive, clock: Clock, person: Inspector, plan: Plan, week: int, chance: np.random.Generator,
    ticket: str = "",
) -> str:  # fmt: skip
    """Take a drill of readings through the program's own sitting, and return the session's id."""
    under_way = sitting.begin(
        archive, person.name, plan, viewing=seen(plan), px_per_mm=PX_PER_MM, drawing_version=DRAWING_VERSION,
        seed=int(chance.integers(2**62)), station=STATION, ticket=ticket, clock=clock.seconds, now=clock.iso,
    )  # fmt: skip
    micrometer = catalogue.load(plan.instrument)
    truths = np.array([item.position_tenths for item in under_way.session.items])
    tenths_only = plan.drill == "tenths"
    given = person.reader(week).answers(
        truths, chance, clipped=tenths_only, signature=signatures(micrometer.name)
    )
    under_way.begin()
    for truth, answer in zip(truths, given, strict=True):
        clock.go_on(seconds=float(chance.gamma(9.0, 0.9)))
        text = (
            f"{np.clip(round(answer - 10 * np.floor(truth / 10)), 0, 10):.0f}"
            if tenths_only
            else micrometer.format_reading(max(0.0, float(answer)), micrometer.decimals)
        )
        if under_way.enter(text) is not None:  # outside the travel: entered once more, as a person would
            under_way.enter(text)
        if under_way.session.phase == "feedback":
            clock.go_on(seconds=2.5)
            under_way.advance()
    clock.go_on(minutes=3)
    return under_way.session_id


def take_other(
    archive: Archive, clock: Clock, person: Inspector, plan: Plan, chance: np.random.Generator
) -> None:
    """Take a drill of another kind, seeing only what the program shows."""
    session = rules.start(plan, deal(plan, catalogue.load(plan.instrument), chance))
    begun = clock.iso()
    session = rules.step(session, rules.Begun(clock.seconds()))
    while not session.over:
        if session.wants_item:
            dealt = placement.next_item(session, chance, ())
            session = rules.step(session, rules.Dealt(dealt, clock.seconds()))
        elif session.phase == "feedback":
            session = rules.step(session, rules.Advanced(clock.seconds()))
        else:
            clock.go_on(seconds=float(chance.gamma(9.0, 0.7)))
            session = answered(session, clock, person, chance)
    header = SessionHeader(
        instrument=plan.instrument, drill=plan.drill, for_record=plan.for_record, seed=SEED,
        program_version=__version__, drawing_version=DRAWING_VERSION, viewing=seen(plan),
        px_per_mm=PX_PER_MM, station=STATION, started_at=begun,
    )  # fmt: skip
    kept = archive.begin_session(
        archive.person(person.name), plan.to_dict(), [item.to_dict() for item in session.items], header
    )
    for answer in session.answers:
        archive.save_answer(kept, answer.to_dict())
    archive.end_session(kept, "finished", clock.iso())
    clock.go_on(minutes=3)


def answered(
    session: rules.Session, clock: Clock, person: Inspector, chance: np.random.Generator
) -> rules.Session:
    """Return the session after one answer to a judging, vernier or setting question."""
    question, view = asked(session), sight(session)
    stands = view.position_tenths + 0.5 * float(chance.normal())
    beyond = (stands + 5) % 10 - 5
    if session.turning is not None and session.item is not None:
        target = session.item.position_tenths + 0.1 + 0.45 * float(chance.normal())
        session = rules.step(session, rules.Turned(target, clock.seconds()))
    elif question.asks == "judge":
        inside = abs(beyond) <= float(question.particulars["tolerance_tenths"])
        session = rules.step(session, rules.Edited("in" if inside else "out"))
    else:
        session = rules.step(session, rules.Edited(str(round(stands) % 10)))
    return rules.step(session, rules.Entered(clock.seconds(), clock.iso()))


def half_a_year(archive: Archive, clock: Clock, chances: dict[int, np.random.Generator]) -> None:
    """Take everybody's drills, week after week; some weeks are missed, as in life."""
    for week in range(WEEKS):
        for day, person in enumerate(INSPECTORS):
            chance = chances[person.number]
            if week < person.joins_week or chance.random() < 0.25:
                continue
            clock.go_to(week, day % 5, hour=float(chance.uniform(0, 5)))
            step = week - person.joins_week
            if person.other_drills and step % 6 == 5:
                name = person.other_drills[step // 6 % len(person.other_drills)]
                other = plans.find(name)
                readings = other.drill in ("tenths", "full-reading", "half-line")
                if readings:
                    take(archive, clock, person, other, week, chance)
                else:
                    take_other(archive, clock, person, other, chance)
                continue
            kind = "first-tenths" if step < 4 else "full-reading"
            take(archive, clock, person, plans.find(f"{kind}-{person.instrument}"), week, chance)


def accounts_of(archive: Archive, clock: Clock, folder: Path) -> dict[str, Any]:
    """Make the two supervisors and the keeper; their keys are used here and not shipped."""
    phrases = {name: secrets.token_urlsafe(24) for name in ("Supervisor 1", "Supervisor 2", "Keeper 1")}
    first = account_rules.set_up(
        "Supervisor 1", None, phrases["Supervisor 1"], now=clock.utc(), random_bytes=secrets.token_bytes
    )
    accounts.keep_key(archive, first, folder / "1.key", who="Supervisor 1")
    keys = {"Supervisor 1": office.unlock(archive, "Supervisor 1", phrases["Supervisor 1"], folder / "1.key")}
    for name, role in (("Supervisor 2", "supervisor"), ("Keeper 1", "keeper")):
        clock.go_on(minutes=5)
        made = account_rules.countersigned(
            accounts.keyring(archive), keys["Supervisor 1"], name, None, (role,), phrases[name],
            now=clock.utc(), random_bytes=secrets.token_bytes,
        )  # fmt: skip
        file = folder / f"{name[-1]}-{role}.key"
        accounts.keep_key(archive, made, file, who="Supervisor 1")
        keys[name] = office.unlock(archive, name, phrases[name], file)
    return keys


def check_until_shown(
    archive: Archive, clock: Clock, keys: dict[str, Any], person: Inspector, chance: np.random.Generator,
    days: int,
) -> bool:  # fmt: skip
    """Let a supervisor open a check a day; return whether the criterion was shown within so many days."""
    criterion, plan = find(CRITERION), plans.find(find(CRITERION).plan)
    known = archive.person(person.name)
    for _ in range(days):
        clock.next_morning()
        ticket = office.start_check(
            archive, keys["Supervisor 1"], "Supervisor 1", criterion, known.id, known.name
        )
        session = take(archive, clock, person, plan, WEEKS, chance, ticket.id)
        office.close_check(archive, session, office.begin_watch(ticket), how="finished", attested=True)
        if office.verdicts(archive, criterion, known.id).last.decision.verdict == "shown":
            return True
    return False


def sign(archive: Archive, clock: Clock, keys: dict[str, Any], person: Inspector, folder: Path) -> None:
    """Sign a person off; write the statement and its certificate."""
    clock.go_on(hours=1)
    made = office.sign(
        archive, keys["Supervisor 2"], "Supervisor 2", find(CRITERION), archive.person(person.name).id
    )
    stem = folder / f"inspector-{person.number}"
    stem.with_suffix(".json").write_text(
        json.dumps(made, ensure_ascii=False, indent=1) + "\n", encoding="utf-8"
    )
    certificate.write(stem.with_suffix(".pdf"), made)


def bench_check(archive: Archive, clock: Clock, person: Inspector, chance: np.random.Generator) -> None:
    """Confirm one person on a real instrument that also has a display (invented as all the rest)."""
    micrometer = catalogue.load("metric")
    step_tenths, zero_tenths = 0.5, 0.3
    reference = bench.Reference("display", Decimal("0.0005"), Decimal("0.0005"))
    keeper = bench_command.Keeper(archive, person.name, "metric", reference, 40)

    def enter(text: str) -> None:
        began = clock.seconds()
        clock.go_on(seconds=4)
        keeper.take(bench.Entered(text, began, clock.seconds(), clock.iso()))
        if keeper.check.complaint:  # asked once more, as a person would be
            keeper.take(bench.Entered(text, began, clock.seconds(), clock.iso()))

    def shown(position_tenths: float) -> str:
        return f"{step_tenths * round((position_tenths + zero_tenths) / step_tenths) / 1000:.4f}"

    for _ in range(6):
        enter(shown(0.3 * float(chance.normal())))
    keeper.take(bench.ZeroSet(clock.seconds()))
    positions = chance.uniform(100, 24_000, 40)
    given = person.reader(WEEKS).answers(positions, chance)
    for position, answer in zip(positions, given, strict=True):
        clock.go_on(seconds=15)
        enter(micrometer.format_reading(float(answer), micrometer.decimals))
        enter(shown(float(position)))
    keeper.end()


def one_sheet(
    archive: Archive, clock: Clock, person: Inspector, chance: np.random.Generator, folder: Path
) -> None:
    """Print one sheet, let it be answered, mark it."""
    made = sheets.make("metric", 20, chance)
    chosen = printed.layout(catalogue.load("metric"), 20, "a4", 1.0)
    key = {**made.to_dict(), "paper": chosen.paper, "magnification": chosen.magnification}
    kept_sheets.keep(archive, key)
    sheet_command.write([made], chosen, folder, as_booklet=False)
    truths = np.array([item.position_tenths for item in made.items])
    given = person.reader(WEEKS).answers(truths, chance, signature=signatures("metric"))
    texts = [catalogue.load("metric").format_reading(max(0.0, float(one)), 3) for one in given]
    clock.go_on(days=1)
    answers = sheets.read_answers(made, texts, clock.iso())
    mark_command.keep(archive, mark_command.Marked(archive.person(person.name), made, key, answers, ()), None)


def make(folder: Path) -> Path:
    """Make the sample in a folder and return the archive's path; older files of the sample are replaced."""
    for old in (*folder.glob("pump-shop.*"), *folder.glob("inspector-*"), *folder.glob("sheet-*.pdf")):
        old.unlink()
    clock, where = Clock(), folder / ARCHIVE
    sitting.utc_now = clock.iso  # bench checks and marked sheets are dated by it
    chances = {one.number: np.random.default_rng([SEED, one.number]) for one in INSPECTORS}
    with Archive.open(where, clock=clock.utc) as archive, tempfile.TemporaryDirectory() as kept:
        keys = accounts_of(archive, clock, Path(kept))
        for person in INSPECTORS:
            archive.add_person(person.name, who="Supervisor 1")
        half_a_year(archive, clock, chances)
        for number, days in ((1, 14), (2, 14), (3, 4)):
            person = INSPECTORS[number - 1]
            if check_until_shown(archive, clock, keys, person, chances[number], days):
                sign(archive, clock, keys, person, folder)
        bench_check(archive, clock, INSPECTORS[0], chances[1])
        one_sheet(archive, clock, INSPECTORS[3], chances[4], folder)
        clock.go_on(hours=2)
        close_as_sample(archive, where, clock.utc(), who="Keeper 1")
    return where


def main(words: Sequence[str]) -> None:
    """Make the sample beside this script, or in the folder named."""
    folder = Path(words[0]) if words else Path(__file__).resolve().parent
    folder.mkdir(parents=True, exist_ok=True)
    print(make(folder))


if __name__ == "__main__":
    main(sys.argv[1:])
