"""`tenthwise bench`: estimates on a real instrument, each locked before its reference is read."""

from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.instrument.typed import UnreadableAnswer, number
from trainer.practice import bench as rules
from trainer.practice import results
from trainer.practice.wording import figure

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.scoring.intervals import Interval
    from trainer.scoring.reference import BenchResult
    from trainer.scoring.transfer import Transfer

DRILL = results.BENCH
MOST_FROM_FILE = 1000  # readings


def bench(
    person: Annotated[str, typer.Argument(help="Whose estimates they are.")],
    instrument: Annotated[str, typer.Option("--instrument", help="The instrument's name in the catalogue.")],
    step: Annotated[
        str,
        typer.Option(
            "--step", metavar="NUMBER", help="Smallest step the reference shows, in the instrument's unit."
        ),
    ],
    reference: Annotated[str, typer.Option("--reference", help="display or vernier.")] = "display",
    accuracy: Annotated[
        str,
        typer.Option(
            "--accuracy",
            metavar="NUMBER",
            help="Half-width of the reference's limits of error, in the same unit.",
        ),
    ] = "0",
    readings: Annotated[int, typer.Option("--readings", help="How many settings to estimate.")] = 20,
    source: Annotated[
        Path | None,
        typer.Option(
            "--from",
            metavar="FILE",
            help="CSV with columns estimate and reference; a row without an estimate observes the zero.",
        ),
    ] = None,
    even_so: Annotated[
        bool,
        typer.Option(
            "--even-so", help="With --from: take references that look wrong (other unit, digits missing)."
        ),
    ] = False,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Check estimates on a real micrometer against a better reference.

    Example: tenthwise bench Kim --instrument inch --reference display --step 0.00005 --accuracy 0.0001

    Set the thimble anywhere and lock it; type the estimate; only then read the reference. With a display,
    first set the zero graduation on the index line, zero the display, and observe the set zero five times.
    """
    from trainer.commands.waiting import tell
    from trainer.records.spool import open_archive

    described = rules.Reference(_kind(reference), _decimal(step, "--step"), _decimal(accuracy, "--accuracy"))
    wanted, events = readings, None
    if source is not None:
        wanted, events = _events(instrument, described, source, even_so=even_so)
    with open_archive(archive) as kept:
        keeper = Keeper(kept, person, instrument, described, wanted)
        if events is None:
            _converse(keeper, quiet=json)
        else:
            for event in events:
                keeper.take(event)
            keeper.end()
        tell(kept)
        _print(keeper, as_json=json)


def _events(
    instrument: str, reference: rules.Reference, source: Path, *, even_so: bool
) -> "tuple[int, list[rules.Event]]":
    """Return how many pairs a file has and its events, all of them found good before anything is kept."""
    from trainer.commands import bench_file
    from trainer.commands.sitting import utc_now

    start = rules.start(instrument, reference, MOST_FROM_FILE, 0.0)
    return bench_file.events(start, source, utc_now, even_so=even_so)


def _kind(text: str) -> rules.ReferenceKind:
    kinds: dict[str, rules.ReferenceKind] = {"display": "display", "vernier": "vernier"}
    if text in kinds:
        return kinds[text]
    raise rules.UnusableReference(f"--reference is {text!r}; it is display or vernier")


def _decimal(text: str, name: str) -> Decimal:
    try:
        return number(text)
    except (UnreadableAnswer, InvalidOperation) as fault:
        raise rules.UnusableReference(f"{name}: {fault}") from None


class Keeper:
    """A bench check under way; every lock and every pair is in the archive before the next prompt."""

    def __init__(
        self, archive: "Archive", person: str, instrument: str, reference: rules.Reference, wanted: int
    ) -> None:
        from trainer import __version__
        from trainer.commands.sitting import utc_now
        from trainer.records.values import SessionHeader

        self.archive, self.now = archive, utc_now
        self.check = rules.start(instrument, reference, wanted, 0.0)
        plan = {
            "name": DRILL,
            "title": "Bench check",
            "drill": DRILL,
            "instrument": instrument,
            "items": wanted,
            "reference": reference.kind,
            "step": str(reference.step),
            "accuracy": str(reference.accuracy),
        }
        header = SessionHeader(
            instrument, DRILL, for_record=True, seed=0, program_version=__version__, drawing_version="",
            started_at=utc_now(),
        )  # fmt: skip
        self.session = archive.begin_session(archive.person(person), plan, [], header)

    def take(self, event: rules.Event) -> None:
        """Step the rules and keep what is new, in order."""
        before, after = self.check, rules.step(self.check, event)
        if len(after.zeros_tenths) > len(before.zeros_tenths):
            self.archive.note(self.session, "zero-observed", self.now(), {"tenths": after.zeros_tenths[-1]})
        if after.estimate is not None and before.estimate is None:
            locked = {"typed": after.estimate[0], "tenths": after.estimate[1]}
            self.archive.note(self.session, "estimate-locked", self.now(), locked)
        if after.withdrawn > before.withdrawn:
            self.archive.note(self.session, "estimate-withdrawn", self.now(), None)
        for pair in after.pairs[len(before.pairs) :]:
            self._keep(pair)
        self.check = after

    def end(self) -> None:
        """End the session, finished when all wanted settings were read."""
        how = "finished" if len(self.check.pairs) >= self.check.wanted else "left"
        self.archive.end_session(self.session, how, self.now())

    def _keep(self, pair: rules.Pair) -> None:
        extra = {"reference_typed": pair.reference_typed, "zero_tenths": self.check.zero_tenths}
        item = {
            "number": pair.number,
            "position_tenths": pair.reference_tenths,
            "asks": "full-reading",
            "extra": extra,
        }
        self.archive.deal_more(self.session, [item])
        self.archive.save_answer(
            self.session,
            {
                "number": pair.number,
                "typed": pair.typed,
                "answer_tenths": pair.estimate_tenths,
                "outcome": "answered",
                "seconds": pair.seconds,
                "at": pair.at,
            },
        )

    def result(self) -> "BenchResult":
        """Return what the check says of the person."""
        from trainer.scoring.reference import ReferenceUncertainty, bench_result
        from trainer.scoring.table import score_people

        if not self.check.pairs:
            raise Refusal("no setting was estimated and read, so there is nothing to score")
        per_unit = self.check.micrometer.tenths_per_unit
        reference = self.check.reference
        zeros = len(self.check.zeros_tenths)
        uncertainty = ReferenceUncertainty(
            step_tenths=float(reference.step * per_unit),
            accuracy_tenths=float(reference.accuracy * per_unit),
            zero_u_tenths=self.check.zero_u_tenths or 0.0,
            zero_df=zeros - 1.0 if zeros > 1 else None,
        )
        score = score_people(self.archive.answers(session=self.session)).people[0]
        return bench_result(score, uncertainty)


def _converse(keeper: Keeper, *, quiet: bool) -> None:
    """Ask for zero observations, then for estimate and reference in turn, until all are in or input ends."""
    from trainer.commands.timed_line import read_line

    while keeper.check.phase not in ("done", "left"):
        typer.echo(_question(keeper.check), nl=False, err=quiet)
        line = read_line()
        if line is None:
            typer.echo("", err=quiet)  # the question stands there without an end of line
            keeper.take(rules.Left(0.0))
            break
        word = line.text.strip().lower()
        if keeper.check.phase == "zero" and not word:
            keeper.take(rules.ZeroSet(line.at_s))
        elif keeper.check.phase == "reference" and word == "moved":
            keeper.take(rules.Withdrawn(line.at_s))
        else:
            began_at_s = line.began_at_s if line.began_at_s is not None else line.at_s - 3600.0
            keeper.take(rules.Entered(line.text, began_at_s, line.at_s, keeper.now()))
        if keeper.check.complaint:
            typer.echo(f"  {keeper.check.complaint}", err=quiet)
    keeper.end()


def _question(check: rules.BenchCheck) -> str:
    place = f"{len(check.pairs) + 1}/{check.wanted}"
    unit = check.micrometer.unit
    match check.phase:
        case "zero":
            seen = len(check.zeros_tenths)
            return f"zero {seen + 1}: set the zero line anew; the display shows ({unit}), empty when done: "
        case "estimate":
            return f"{place}  set the thimble anywhere and lock it; your estimate ({unit}): "
        case _:
            return f"{place}  locked; now the {check.reference.kind} ({unit}), or 'moved': "


def _print(keeper: Keeper, *, as_json: bool) -> None:
    from trainer.commands.output import print_json
    from trainer.records.refusals import ArchiveAway

    result = keeper.result()
    nothing = "no readings for the record on this instrument, so nothing to compare with yet"
    try:
        beside = _beside(keeper)
    except ArchiveAway:
        beside = None
        nothing = "the server does not answer, so nothing is compared now; `export transfer` has it later"
    if as_json:
        against = beside.to_dict() if beside else None
        print_json({**result.to_dict(), "against_screen": against}, one_line=True)
        return
    um = catalogue.load(keeper.check.instrument).tenth_um
    typer.echo(f"bias: {_words(result.bias_tenths, um, signed=True)}")
    typer.echo(f"spread, reference's part out: {_words(result.spread_tenths, um, signed=False)}")
    typer.echo(f"readings: {result.readings}, of them misreads set apart: {result.misreads}")
    for caution in result.cautions:
        typer.echo(f"note: {caution}")
    if beside is None:
        typer.echo(f"screen: {nothing}")
    for sentence in beside.sentences() if beside else ():
        typer.echo(f"screen: {sentence}")
    typer.echo("Whether parts or instruments are accepted follows the laboratory's own procedures.")


def _beside(keeper: Keeper) -> "Transfer | None":
    """Return this person's bench checks against the screen, None where the screen knows nothing."""
    from trainer.commands import transfer
    from trainer.commands.evidence import Wanted

    owner = keeper.archive.session(keeper.session).person
    return transfer.found_if_any(keeper.archive, owner.id, Wanted(keeper.check.instrument))


def _words(part: "Interval", tenth_um: float, *, signed: bool) -> str:
    value, low, high = part.value, part.low, part.high
    if value is None:
        return "cannot be had from so few readings"

    def said(number: float) -> str:
        return figure(number, 2, signed=signed)

    interval = "" if low is None or high is None else f" (95 %: {said(low)} to {said(high)})"
    return f"{said(value)} tenths{interval}, {said(value * tenth_um)} µm"
