"""`tenthwise demo`: three invented people take the shipped check through the real program."""

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import numpy as np
import typer

from trainer.commands.options import JsonOption
from trainer.commands.output import as_typed, progress_wanted
from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer
from trainer.instrument.refusal import Refusal
from trainer.practice import plans

if TYPE_CHECKING:
    import pandas as pd

    from trainer.commands.sitting import Sitting
    from trainer.drawing.painter import Painter
    from trainer.records.archive import Archive
    from trainer.scoring.simulated import SimulatedReader
    from trainer.scoring.table import PeopleScores

PLAN = "check-metric"
SITTINGS = 6  # of twenty readings each, a week apart
PICTURES = 6  # kept of each person; all are painted
PX_PER_MM, SIZE_PX = 24.0, (1280, 560)
SEED = 20_310_303
FIRST_DAY = datetime(2031, 3, 3, 8, 0, tzinfo=UTC)  # an invented spring
BIAS_LIMIT_TENTHS, SPREAD_LIMIT_TENTHS = 0.5, 1.0  # as in the shipped first-level criterion
REMARK = "Invented people and invented readings, made to show what the program tells apart."
MADE = ("archive.sqlite", "archive.sqlite-wal", "archive.sqlite-shm", "people.json", "people.csv")


class UnusableFolder(Refusal):
    """The demo may not write into the folder."""


@dataclass
class InventedClock:
    """Time of the demo: it moves when a reading is made."""

    moment: datetime = field(default=FIRST_DAY)

    def seconds(self) -> float:
        """Return seconds since the demo's beginning."""
        return (self.moment - FIRST_DAY).total_seconds()

    def utc(self) -> datetime:
        """Return the present moment of the demo."""
        return self.moment

    def iso(self) -> str:
        """Return the present moment of the demo, ISO 8601."""
        return self.moment.isoformat(timespec="milliseconds")

    def pass_s(self, seconds: float) -> None:
        """Let time go on."""
        self.moment += timedelta(seconds=seconds)


def demo(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where to write.")] = Path(
        "tenthwise-demo"
    ),
    json: JsonOption = False,
) -> None:
    """Let three invented people take the shipped check, and show what comes of it.

    Example: tenthwise demo --out tenthwise-demo

    Each takes six sittings of twenty readings through the real dealing, painter, archive and scoring. One
    reads a little high, one favours 0 and 5, one slips now and then. It writes pictures, the archive, each
    person's figures and a report as PDF and PNG.
    """
    from trainer.commands.output import print_json
    from trainer.records.archive import Archive
    from trainer.scoring.table import score_people

    _prepare(out)
    clock = InventedClock()
    with Archive.open(out / "archive.sqlite", clock=clock.utc) as archive, _progress() as tick:
        _take_all(archive, clock, out / "pictures", tick)
        answers = archive.answers().sort_values(["person", "session", "item"], ignore_index=True)
        scores = score_people(answers)
        _write_figures(scores, out)
        _write_reports(scores, answers, out, tick)
    if json:
        print_json(scores.to_dict())
        return
    from trainer.commands import score_text

    score_text.show(scores)
    print(f"\n{REMARK}")
    print(
        f"Written to {out}: report.pdf, report.png, one of each person, pictures/, people.csv, archive.sqlite"
    )
    print(f"Look at them in the window: tenthwise --archive {as_typed(out / 'archive.sqlite')}")


def invented_people() -> tuple["SimulatedReader", ...]:
    """Return the three readers of the demo; their names say what they do."""
    from trainer.scoring.simulated import SimulatedReader

    day = 0.08  # tenths by which the bias of each differs from day to day
    return (
        SimulatedReader("Invented A, reads high", bias_tenths=0.45, sigma_tenths=0.45, session_sd_tenths=day),
        SimulatedReader("Invented B, favours 0 and 5", sigma_tenths=0.6, pull=0.45, session_sd_tenths=day),
        SimulatedReader(
            "Invented C, slips now and then",
            sigma_tenths=0.4,
            misread_rates={"half-millimetre": 0.03, "graduation": 0.02, "wrong-side": 0.02},
            session_sd_tenths=day,
        ),
    )


def _prepare(out: Path) -> None:
    """Make the folder, and take away what an earlier demo left in it and nothing else."""
    if out.exists() and not out.is_dir():
        raise UnusableFolder(f"{out} is a file; name a folder for the demo with --out")
    if out.is_dir() and any(out.iterdir()) and not (out / "people.json").exists():
        raise UnusableFolder(f"{out} holds other things; name a new folder for the demo with --out")
    (out / "pictures").mkdir(parents=True, exist_ok=True)
    for name in MADE:
        (out / name).unlink(missing_ok=True)


def _take_all(archive: "Archive", clock: InventedClock, pictures: Path, tick: Callable[[str], None]) -> None:
    from trainer.commands import sitting as sittings
    from trainer.drawing.painter import DRAWING_VERSION, Painter
    from trainer.drawing.viewing import Viewing

    plan = plans.find(PLAN)
    micrometer = catalogue.load(plan.instrument)
    viewing = Viewing(PX_PER_MM)
    painter = Painter(micrometer, viewing=viewing, size_px=SIZE_PX)
    readers = invented_people()
    chances = [np.random.default_rng([SEED, number]) for number in range(len(readers))]
    for reader in readers:
        archive.add_person(reader.name)
    for week in range(SITTINGS):
        clock.moment = FIRST_DAY + timedelta(weeks=week)
        for number, (reader, chance) in enumerate(zip(readers, chances, strict=True)):
            sitting = sittings.begin(
                archive, reader.name, plan,
                viewing=viewing.to_dict(), px_per_mm=PX_PER_MM, drawing_version=DRAWING_VERSION,
                seed=SEED + 100 * number + week, station="invented bench",
                clock=clock.seconds, now=clock.iso,
            )  # fmt: skip
            keep = pictures / f"person-{'abc'[number]}" if week == 0 else None
            _sit(sitting, _answers(reader, sitting, micrometer, chance), painter, keep, clock, chance)
            clock.pass_s(600)
            tick(f"{reader.name}, sitting {week + 1}")


def _answers(
    reader: "SimulatedReader", sitting: "Sitting", micrometer: Micrometer, chance: np.random.Generator
) -> list[str]:
    """Return what a reader types for each item of a sitting."""
    from trainer.scoring.misreads import signatures

    truths = np.array([item.position_tenths for item in sitting.session.items])
    given = reader.answers(truths, chance, signature=signatures(micrometer.name))
    return [micrometer.format_reading(max(0.0, float(answer)), micrometer.decimals) for answer in given]


def _sit(
    sitting: "Sitting",
    texts: list[str],
    painter: "Painter",
    keep: Path | None,
    clock: InventedClock,
    chance: np.random.Generator,
) -> None:
    """Take one sitting: every item is painted, answered and kept in the archive."""
    from trainer.drawing import png

    sitting.begin()
    for text in texts:
        item = sitting.session.item
        assert item is not None  # there are as many texts as items
        picture = painter.paint(item.position_tenths)
        if keep is not None and item.number <= PICTURES:
            keep.mkdir(exist_ok=True)
            png.write(keep / f"item-{item.number:03d}.png", picture)
        clock.pass_s(float(chance.gamma(9.0, 0.9)))
        if sitting.enter(text) is not None:  # outside the travel: entered once more, as a person would
            sitting.enter(text)


def _write_figures(scores: "PeopleScores", out: Path) -> None:
    from json import dumps

    from trainer.commands.output import whole_file

    with whole_file(out / "people.csv") as file:
        scores.summary().to_csv(file, index=False)
    with whole_file(out / "people.json") as file:
        file.write_text(
            dumps(scores.to_dict(), ensure_ascii=False, allow_nan=False, indent=2), encoding="utf-8"
        )


def _write_reports(
    scores: "PeopleScores", answers: "pd.DataFrame", out: Path, tick: Callable[[str], None]
) -> None:
    from trainer import __version__
    from trainer.drawing.painter import DRAWING_VERSION
    from trainer.reports import person_report, team_report
    from trainer.reports.heading import ReportHeader

    header = ReportHeader(
        conditions=f"plan {PLAN}, picture {PX_PER_MM:.0f} px/mm",
        remark=REMARK,
        program_version=__version__,
        drawing_version=DRAWING_VERSION,
        bias_limit_tenths=BIAS_LIMIT_TENTHS,
        spread_limit_tenths=SPREAD_LIMIT_TENTHS,
    )
    team_report.write(out / "report.pdf", scores.people, answers, header, title="Invented team")
    team_report.write_png(out / "report.png", scores.people, answers, header, title="Invented team")
    tick("report of the team")
    for letter, score in zip("abc", scores.people, strict=True):
        person_report.write(out / f"person-{letter}.pdf", score, answers, header)
        person_report.write_png(out / f"person-{letter}.png", score, answers, header)
        tick(f"report of {score.person}")


@contextlib.contextmanager
def _progress() -> Iterator[Callable[[str], None]]:
    """Yield what to call after each piece of work; a bar on standard error where a person looks at it."""
    if not progress_wanted():
        yield lambda what: None
        return
    from rich.console import Console
    from rich.progress import Progress

    people = len(invented_people())
    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("beginning", total=people * SITTINGS + people + 1)
        yield lambda what: bar.update(task, advance=1, description=what)
