"""`tenthwise bench`: estimates on a real instrument, each locked before its reference is read."""

import csv
import io
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.instrument import catalogue
from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal
from trainer.instrument.typed import UnreadableAnswer, number
from trainer.practice import bench as rules
from trainer.practice import results

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.scoring.reference import BenchResult
    from trainer.scoring.transfer import Transfer

DRILL = results.BENCH
LARGEST_FILE = 4 * 1024 * 1024  # bytes


class UnusableBenchFile(Refusal):
    """The file of estimates and references cannot be used; the sentence names line, field and remedy."""


def bench(
    person: Annotated[str, typer.Argument(help="Whose estimates they are.")],
    instrument: Annotated[str, typer.Option("--instrument", help="The instrument's name in the catalogue.")],
    step: Annotated[
        str, typer.Option("--step", help="Smallest step the reference shows, in the instrument's unit.")
    ],
    reference: Annotated[str, typer.Option("--reference", help="display or vernier.")] = "display",
    accuracy: Annotated[
        str, typer.Option("--accuracy", help="Half-width of the reference's limits of error.")
    ] = "0",
    readings: Annotated[int, typer.Option("--readings", help="How many settings to estimate.")] = 20,
    source: Annotated[
        Path | None,
        typer.Option(
            "--from", metavar="FILE", help="CSV with columns estimate and reference (zero rows: zero)."
        ),
    ] = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Check estimates on a real micrometer against a better reference.

    Example: tenthwise bench Kim --instrument inch --reference display --step 0.00005 --accuracy 0.0001

    Set the thimble anywhere and lock it; type the estimate; only then read the reference. With a display,
    first set the zero graduation on the index line, zero the display, and observe the set zero five times.
    """
    from trainer.records.archive import Archive

    described = rules.Reference(_kind(reference), _decimal(step, "--step"), _decimal(accuracy, "--accuracy"))
    with Archive.open(archive) as kept:
        keeper = Keeper(kept, person, instrument, described, readings if source is None else 1000)
        if source is not None:
            _from_file(keeper, source)
        else:
            _converse(keeper, quiet=json)
        _print(keeper, as_json=json)


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


def _from_file(keeper: Keeper, path: Path) -> None:
    """Take pairs from a CSV: rows with an empty estimate and a reference near zero observe the zero."""
    for line, estimate, reference in _rows(path):
        phase = keeper.check.phase
        if not estimate:
            if phase != "zero":
                raise UnusableBenchFile(
                    f"{path}, line {line}: estimate is empty; an estimate comes before its reference"
                )
            texts = [reference]
        else:
            if phase == "zero":
                keeper.take(rules.ZeroSet(0.0))
                _complain(keeper, path, line, "zero")
            texts = [estimate, reference]
        for name, text in zip(("estimate", "reference")[-len(texts) :], texts, strict=True):
            for _ in range(2):  # a doubted value stands in the file on purpose: entering it again keeps it
                length = (len(keeper.check.pairs), len(keeper.check.zeros_tenths), keeper.check.estimate)
                keeper.take(rules.Entered(text, -3600.0, 0.0, keeper.now()))
                if (len(keeper.check.pairs), len(keeper.check.zeros_tenths), keeper.check.estimate) != length:
                    break
            _complain(keeper, path, line, name)
    keeper.archive.end_session(keeper.session, "finished", keeper.now())


def _complain(keeper: Keeper, path: Path, line: int, field: str) -> None:
    if keeper.check.complaint:
        said = keeper.check.complaint
        keeper.archive.end_session(keeper.session, "closed", keeper.now())
        raise UnusableBenchFile(f"{path}, line {line}: {field}: {said}")


def _rows(path: Path) -> Iterator[tuple[int, str, str]]:
    """Yield (line, estimate, reference) from a CSV with comma, semicolon or tab, in UTF-8 or Latin-1."""
    raw = some_bytes(path, LARGEST_FILE)
    if len(raw) > LARGEST_FILE:
        raise UnusableBenchFile(f"{path}: the file is larger than {LARGEST_FILE // 1024**2} MiB; split it")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    start = next((i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")), None)
    if start is None:
        raise UnusableBenchFile(f"{path}: the file is empty; it needs the columns estimate and reference")
    delimiter = max(";\t,", key=lines[start].count)
    reader = csv.DictReader(io.StringIO("\n".join(lines[start:])), delimiter=delimiter)
    named = [name.strip().lower() for name in reader.fieldnames or []]
    for wanted in ("estimate", "reference"):
        if named.count(wanted) != 1:
            found = ", ".join(named)
            raise UnusableBenchFile(f"{path}: column {wanted} must be there once; the header has {found}")
    reader.fieldnames = named
    for row in reader:
        values: dict[str, Any] = {name: (row[name] or "").strip() for name in ("estimate", "reference")}
        if any(values.values()):
            yield start + reader.line_num, values["estimate"], values["reference"]


def _print(keeper: Keeper, *, as_json: bool) -> None:
    from trainer.commands.output import print_json

    result, beside = keeper.result(), _beside(keeper)
    if as_json:
        against = beside.to_dict() if beside else None
        print_json({**result.to_dict(), "against_screen": against}, one_line=True)
        return
    um = catalogue.load(keeper.check.instrument).tenth_um
    for name, value in (("bias", result.bias_tenths), ("spread, reference's part out", result.spread_tenths)):
        typer.echo(f"{name}: {_words(value.value, value.low, value.high, um)}")
    typer.echo(f"readings: {result.readings}, of them misreads set apart: {result.misreads}")
    for caution in result.cautions:
        typer.echo(f"note: {caution}")
    if beside is None:
        typer.echo("screen: no readings for the record on this instrument, so nothing to compare with yet")
    for sentence in beside.sentences() if beside else ():
        typer.echo(f"screen: {sentence}")
    typer.echo("Whether parts or instruments are accepted follows the laboratory's own procedures.")


def _beside(keeper: Keeper) -> "Transfer | None":
    """Return this person's bench checks against the screen, None where the screen knows nothing."""
    from trainer.commands import transfer
    from trainer.commands.evidence import Wanted

    owner = keeper.archive.session(keeper.session).person
    return transfer.found_if_any(keeper.archive, owner.id, Wanted(keeper.check.instrument))


def _words(value: float | None, low: float | None, high: float | None, tenth_um: float) -> str:
    if value is None:
        return "cannot be had from so few readings"
    interval = "" if low is None or high is None else f" (95 %: {low:+.2f} to {high:+.2f})"
    return f"{value:+.2f} tenths{interval}, {value * tenth_um:+.2f} µm"
