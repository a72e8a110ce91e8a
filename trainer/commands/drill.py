"""`tenthwise drill`: take a plan, in the window or, for remote work and scripts, without one."""

import contextlib
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import typed_number, typed_size
from trainer.instrument.refusal import Refusal
from trainer.practice import conditions, plans
from trainer.practice.asking import asked, sight
from trainer.practice.plan import Plan
from trainer.practice.telling import Told, told
from trainer.practice.wording import figure

if TYPE_CHECKING:
    from trainer.commands.guarding import Guard
    from trainer.commands.sitting import Sitting
    from trainer.drawing.painter import Painter
    from trainer.drawing.viewing import Viewing
    from trainer.instrument.micrometer import Micrometer
    from trainer.records.archive import Archive
    from trainer.signoff.guard import Ticket

SKIP_WORDS = ("", "skip", "-")
PLAIN = ("tenths", "full-reading")
TURNS_HINT = " From where it stands in the picture, in divisions, such as +3.5 -0.2:"


def _folder(given: Path | None) -> Path | None:
    """Refuse an option in the folder's place: the parser would take it, and miss something else."""
    if given is not None and str(given).startswith("-"):
        raise typer.BadParameter(f"name the folder for the pictures before {given}, such as pictures")
    return given


def drill(
    plan: Annotated[str, typer.Argument(help="A shipped plan's name, or a plan file.")],
    person: Annotated[str, typer.Option("--person", "-p", help="Who takes it.")],
    no_window: Annotated[
        Path | None,
        typer.Option(
            "--no-window",
            metavar="DIR",
            help="Write pictures to DIR, read answers from standard input.",
            callback=_folder,
        ),
    ] = None,
    json: JsonOption = False,
    plain: Annotated[
        bool, typer.Option("--plain", help="Draw plain pictures: no texture, no numerals.")
    ] = False,
    px_per_mm: Annotated[
        str, typer.Option("--px-per-mm", metavar="NUMBER", help="Pixels of the pictures to a millimetre.")
    ] = "20",
    size: Annotated[
        str, typer.Option("--size", metavar="WIDTHxHEIGHT", help="Size of the pictures in pixels.")
    ] = "1280x720",
    seed: Annotated[
        int | None, typer.Option("--seed", min=0, help="Deal from this seed (not for a check).")
    ] = None,
    ticket: Annotated[
        str,
        typer.Option("--ticket", metavar="NUMBER", help="The ticket of a check that a supervisor opened."),
    ] = "",
    resume: Annotated[bool, typer.Option("--resume", help="Go on with the unfinished session.")] = False,
    new_person: Annotated[bool, typer.Option("--new-person", help="Add the person first.")] = False,
    archive: ArchiveOption = None,
) -> None:
    """Take a drill.

    Example: tenthwise drill full-reading-metric --person Kim --no-window pictures

    Without a window each item's picture is written to DIR and its answer is read from standard input, one
    line each; an empty line skips the item. With --json each prompt is one JSON line and the last line is
    the result as `tenthwise score` prints it.

    Under a ticket nothing is told while the check goes on, and after its last item one more question is
    asked: whether the person took it alone. Answer yes or no; with --json its line has "asks":
    "attestation".
    """
    chosen = plans.find(plan)
    if seed is not None and chosen.for_record:
        raise Refusal("a check for the record deals from a fresh seed that nobody knows; leave out --seed")
    if no_window is None:
        from trainer.commands.window import open_window

        opened = open_window(archive, plan=chosen, person=person, new_person=new_person, ticket=ticket)
        raise typer.Exit(opened)
    _take_without_window(
        chosen, person, no_window, archive,
        as_json=json, plain=plain, px_per_mm=typed_number(px_per_mm, "--px-per-mm", 0.5, 1000),
        size_px=typed_size(size, "--size"),
        seed=seed, ticket=ticket, resume=resume, new_person=new_person,
    )  # fmt: skip


def _take_without_window(
    plan: Plan,
    person: str,
    folder: Path,
    where: str | None,
    *,
    as_json: bool,
    plain: bool,
    px_per_mm: float,
    size_px: tuple[int, int],
    seed: int | None,
    ticket: str,
    resume: bool,
    new_person: bool,
) -> None:
    from trainer.commands import guarding
    from trainer.commands.drill_result import print_result
    from trainer.commands.waiting import tell
    from trainer.drawing.viewing import Viewing
    from trainer.records.spool import open_archive

    viewing = Viewing.from_dict({**plan.viewing, "px_per_mm": px_per_mm, "plain": plain})
    pictures = Pictures(folder, viewing, size_px)
    folder.mkdir(parents=True, exist_ok=True)
    guarding.refuse_new_person(ticket, new_person=new_person)
    with open_archive(where, create=not ticket) as archive:
        if new_person:
            archive.add_person(person)
        sitting, under = _sitting(archive, person, plan, viewing, seed=seed, ticket=ticket, resume=resume)
        guard = guarding.guard_of(sitting, under, as_json, resumed=resume)
        with guard.watching() if guard else contextlib.nullcontext():
            _converse(sitting, pictures, as_json, guard)
        tell(archive)
        if sitting.session.phase != "done":
            session = sitting.session
            done, of = len(session.answers), session.total or len(session.items)
            raise Refusal(
                f"the answers ended after {done} of {of}; they are kept, "
                f"and --resume goes on with item {done + 1}"
            )
        print_result(sitting, as_json)
        if guard and not as_json:
            print("", *guard.sentences(), sep="\n")


def _sitting(
    archive: "Archive",
    person: str,
    plan: Plan,
    viewing: "Viewing",
    *,
    seed: int | None,
    ticket: str,
    resume: bool,
) -> "tuple[Sitting, Ticket | None]":
    """Return the sitting, begun or taken up again, and the ticket that it goes on under."""
    from trainer.commands import guarding
    from trainer.commands import sitting as sittings
    from trainer.drawing.painter import DRAWING_VERSION

    if resume:
        stored = sittings.unfinished(archive, person, plan)
        again = guarding.look_again(archive, ticket, stored)
        return sittings.reopen(archive, stored), again
    under = guarding.look_at_ticket(archive, ticket, person, plan) if ticket else None
    if plan.for_record and not ticket:
        guarding.warn_without_ticket(archive)
    sitting = sittings.begin(
        archive, person, plan,
        viewing=viewing.to_dict(), px_per_mm=viewing.px_per_mm, drawing_version=DRAWING_VERSION, seed=seed,
        ticket=under.id if under else "",
    )  # fmt: skip
    _warn(sitting, viewing)
    return sitting, under


def _warn(sitting: "Sitting", viewing: "Viewing") -> None:
    """Say on stderr what the pictures cannot show of this plan, and keep it with the session."""
    session = sitting.session
    found = list(conditions.warnings(session.plan, session.micrometer, viewing.px_per_mm))
    if session.plan.exposure_seconds is not None:
        found.append("without a window the picture cannot be hidden; exposure_seconds has no effect")
    if session.plan.true_size:
        found.append("without a window nothing is known of a screen; true_size has no effect on the picture")
    for warning in found:
        print(f"warning: {warning}", file=sys.stderr)
        sitting.archive.note(sitting.session_id, "warning", sitting.now(), warning)


def _converse(sitting: "Sitting", pictures: "Pictures", as_json: bool, guard: "Guard | None") -> None:
    """Prompt for each item and take its answer until the session or standard input ends."""
    previous: Told | None = None
    sitting.begin()
    while not sitting.session.over:
        picture = pictures.write(sitting)
        refused: str | None = None
        count = len(sitting.session.answers)
        while len(sitting.session.answers) == count:
            _prompt(sitting, picture, previous, refused, as_json)
            line = sys.stdin.readline()
            if not line:
                if not as_json:
                    print()  # the question stands there without an end of line
                sitting.leave()
                return
            if line.strip().lower() in SKIP_WORDS:
                sitting.skip()
            else:
                refused = sitting.enter(line.strip("\r\n"))
        if guard:
            guard.glance()
        previous = told(sitting.session)
        if sitting.session.phase == "feedback":
            sitting.advance()
    if previous and not as_json:
        print(_feedback_words(previous, sitting.session.micrometer))


@dataclass
class Pictures:
    """Writes each item's picture; a painter is kept while the instrument stays the same."""

    folder: Path
    viewing: "Viewing"
    size_px: tuple[int, int]
    _painter: "Painter | None" = None

    def write(self, sitting: "Sitting") -> str:
        """Write the picture of the item to be read now; return its file's name."""
        from trainer.drawing import png
        from trainer.drawing.painter import Painter

        item, seen = sitting.session.item, sight(sitting.session)
        assert item is not None  # the session is not over
        assert seen is not None
        viewing, painter = seen.viewing(self.viewing), self._painter
        wanted = (seen.micrometer, seen.faults, viewing)
        if painter is None or (painter.micrometer, painter.faults, painter.viewing) != wanted:
            painter = self._painter = Painter(*wanted, self.size_px)
        name = f"item-{item.number:03d}.png"
        png.write(self.folder / name, painter.paint(seen.position_tenths))
        return name


def _prompt(
    sitting: "Sitting", picture: str, previous: Told | None, refused: str | None, as_json: bool
) -> None:
    from trainer.commands.output import print_json

    question = asked(sitting.session)
    assert question is not None  # the session is not over
    if as_json:
        said: dict[str, Any] = {**question.to_dict(), "picture": picture}
        if question.asks in PLAIN:  # these say it all with `asks`
            del said["question"]
        if previous:
            said["previous"] = _feedback(previous, sitting.session.micrometer)
        if refused:
            said["refused"] = refused
        print_json(said, one_line=True)
        return
    if refused:
        print(refused)
    elif previous:
        print(_feedback_words(previous, sitting.session.micrometer))
    lines = question.particulars
    between = f" (between {lines['lower_line']} and {lines['upper_line']})" if "lower_line" in lines else ""
    of = "" if question.of is None else f"/{question.of}"
    hint = TURNS_HINT if sitting.session.turning is not None else ""
    print(f"{question.item}{of}  {picture}{between}  {question.question}{hint} ", end="", flush=True)


def _feedback(previous: Told, micrometer: "Micrometer") -> dict[str, Any]:
    """Return the feedback on an item as plain values."""
    error = previous.error_tenths
    return {
        "item": previous.item,
        "outcome": previous.outcome,
        "right": previous.right,
        "truth": previous.truth.removesuffix(f" {micrometer.unit}"),
        "unit": micrometer.unit,
        "error_tenths": error,
        "error_um": None if error is None else error * micrometer.tenth_um,
        "lines": list(previous.lines),
        **({"figures": previous.figures} if previous.figures else {}),
    }


def _feedback_words(previous: Told, micrometer: "Micrometer") -> str:
    told_truth = f"      it was {previous.truth}" if previous.truth else "     "
    if previous.outcome != "answered":
        head = f"{told_truth}; {previous.outcome}"
    elif previous.error_tenths is None:
        head = f"{told_truth}; {'right' if previous.right else 'wrong'}"
    else:
        error_um = previous.error_tenths * micrometer.tenth_um
        head = f"{told_truth}; your error: {figure(previous.error_tenths)} tenths ({figure(error_um)} µm)"
    return "\n      ".join([head, *previous.lines])
