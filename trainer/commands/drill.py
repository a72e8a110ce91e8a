"""`tenthwise drill`: take a plan, in the window or, for remote work and scripts, without one."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.practice import plans
from trainer.practice.plan import Plan

if TYPE_CHECKING:
    from trainer.commands.sitting import Sitting
    from trainer.drawing.painter import Painter

SKIP_WORDS = ("", "skip", "-")


class UnusableSize(Refusal):
    """The picture's size is not one that can be drawn."""


def drill(
    plan: Annotated[str, typer.Argument(help="A shipped plan's name, or a plan file.")],
    person: Annotated[str, typer.Option("--person", "-p", help="Who takes it.")],
    no_window: Annotated[
        Path | None,
        typer.Option(
            "--no-window", metavar="DIR", help="Write pictures to DIR, read answers from standard input."
        ),
    ] = None,
    json: JsonOption = False,
    plain: Annotated[
        bool, typer.Option("--plain", help="Draw plain pictures: no texture, no numerals.")
    ] = False,
    px_per_mm: Annotated[float, typer.Option("--px-per-mm", help="Scale of the pictures.")] = 20.0,
    size: Annotated[str, typer.Option("--size", help="Size of the pictures, WIDTHxHEIGHT.")] = "1280x720",
    seed: Annotated[
        int | None, typer.Option("--seed", min=0, help="Deal from this seed (not for a check).")
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with the unfinished session.")] = False,
    new_person: Annotated[bool, typer.Option("--new-person", help="Add the person first.")] = False,
    archive: ArchiveOption = None,
) -> None:
    """Take a drill.

    Example: tenthwise drill full-reading-metric --person Kim --no-window pictures

    Without a window each item's picture is written to DIR and its answer is read from standard input, one
    line each; an empty line skips the item. With --json each prompt is one JSON line and the last line is
    the result as `tenthwise score` prints it.
    """
    chosen = plans.find(plan)
    if seed is not None and chosen.for_record:
        raise Refusal("a check for the record deals from a fresh seed that nobody knows; leave out --seed")
    if no_window is None:
        from trainer.commands.window import open_window

        raise typer.Exit(open_window(archive, plan=chosen, person=person, new_person=new_person))
    width, height = parse_size(size)
    _take_without_window(
        chosen, person, no_window, archive,
        as_json=json, plain=plain, px_per_mm=px_per_mm, size_px=(width, height),
        seed=seed, resume=resume, new_person=new_person,
    )  # fmt: skip


def parse_size(text: str) -> tuple[int, int]:
    """Return (width, height) in pixels from text such as 1280x720."""
    parts = text.lower().replace("×", "x").split("x")
    if len(parts) != 2 or not all(part.strip().isdigit() for part in parts):
        raise UnusableSize(f"--size is {text!r}; write width and height in pixels, such as 1280x720")
    width, height = (int(part) for part in parts)
    if not (160 <= width <= 8000 and 120 <= height <= 8000):
        raise UnusableSize(f"--size is {text}; a picture is 160x120 to 8000x8000 pixels")
    return width, height


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
    resume: bool,
    new_person: bool,
) -> None:
    from trainer.commands import sitting as sittings
    from trainer.drawing.painter import DRAWING_VERSION, Painter
    from trainer.drawing.viewing import Viewing
    from trainer.records.archive import Archive

    viewing = Viewing.from_dict({**plan.viewing, "px_per_mm": px_per_mm, "plain": plain})
    painter = Painter(catalogue.load(plan.instrument), viewing=viewing, size_px=size_px)
    folder.mkdir(parents=True, exist_ok=True)
    with Archive.open(where) as archive:
        if new_person:
            archive.add_person(person)
        if resume:
            sitting = sittings.resume(archive, person, plan)
        else:
            sitting = sittings.begin(
                archive, person, plan,
                viewing=viewing.to_dict(), px_per_mm=px_per_mm, drawing_version=DRAWING_VERSION, seed=seed,
            )  # fmt: skip
        _converse(sitting, painter, folder, as_json)
        if sitting.session.phase != "done":
            done, of = len(sitting.session.answers), len(sitting.session.items)
            raise Refusal(
                f"the answers ended after {done} of {of}; they are kept, "
                f"and --resume goes on with item {done + 1}"
            )
        _print_result(sitting, as_json)


def _converse(sitting: "Sitting", painter: "Painter", folder: Path, as_json: bool) -> None:
    """Prompt for each item and take its answer until the session or standard input ends."""
    previous: dict[str, Any] | None = None
    sitting.begin()
    while not sitting.session.over:
        picture = _write_picture(sitting, painter, folder)
        refused: str | None = None
        count = len(sitting.session.answers)
        while len(sitting.session.answers) == count:
            _prompt(sitting, picture, previous, refused, as_json)
            line = sys.stdin.readline()
            if not line:
                sitting.leave()
                return
            if line.strip().lower() in SKIP_WORDS:
                sitting.skip()
            else:
                refused = sitting.enter(line.strip("\r\n"))
        previous = _feedback(sitting)
        if sitting.session.phase == "feedback":
            sitting.advance()
    if previous and not as_json:
        print(_feedback_words(previous))


def _write_picture(sitting: "Sitting", painter: "Painter", folder: Path) -> str:
    from trainer.drawing import png

    item = sitting.session.item
    assert item is not None  # the session is not over
    name = f"item-{item.number:03d}.png"
    png.write(folder / name, painter.paint(item.position_tenths))
    return name


def _prompt(
    sitting: "Sitting", picture: str, previous: dict[str, Any] | None, refused: str | None, as_json: bool
) -> None:
    from trainer.commands.output import print_json

    item, plan = sitting.session.item, sitting.session.plan
    assert item is not None  # the session is not over
    micrometer = catalogue.load(plan.instrument)
    line = int(item.extra["line_tenths"] / 10) % micrometer.divisions if "line_tenths" in item.extra else None
    if as_json:
        asked: dict[str, Any] = {
            "item": item.number,
            "of": len(sitting.session.items),
            "picture": picture,
            "asks": item.asks,
            "unit": "tenth" if plan.drill == "tenths" else micrometer.unit,
        }
        if line is not None:
            asked["lower_line"] = line
        if previous:
            asked["previous"] = previous
        if refused:
            asked["refused"] = refused
        print_json(asked, one_line=True)
        return
    if refused:
        print(refused)
    elif previous:
        print(_feedback_words(previous))
    between = f" (between {line} and {(line + 1) % micrometer.divisions})" if line is not None else ""
    question = (
        f"{item.number}/{len(sitting.session.items)}  {picture}{between}  {sitting.session.kind.question} "
    )
    print(question, end="", flush=True)


def _feedback(sitting: "Sitting") -> dict[str, Any] | None:
    """Return truth, answer and error of the item just answered, where the plan gives feedback."""
    if not sitting.session.plan.feedback:
        return None
    answer = sitting.session.answers[-1]
    item = next(item for item in sitting.session.items if item.number == answer.number)
    micrometer = catalogue.load(sitting.session.plan.instrument)
    error = None if answer.answer_tenths is None else answer.answer_tenths - item.position_tenths
    return {
        "item": item.number,
        "outcome": answer.outcome,
        "truth": micrometer.format_reading(item.position_tenths),
        "unit": micrometer.unit,
        "error_tenths": error,
        "error_um": None if error is None else error * micrometer.tenth_um,
    }


def _feedback_words(previous: dict[str, Any]) -> str:
    truth = f"      it read {previous['truth']} {previous['unit']}"
    if previous["error_tenths"] is None:
        return f"{truth}; {previous['outcome']}"
    return f"{truth}; your error: {previous['error_tenths']:+.1f} tenths ({previous['error_um']:+.1f} µm)"


def _print_result(sitting: "Sitting", as_json: bool) -> None:
    from trainer.commands.output import print_json
    from trainer.scoring.table import score_people

    answers = sitting.archive.answers(session=sitting.session_id)
    scores = score_people(answers)
    if as_json:
        print_json(scores.to_dict(), one_line=True)
        return
    from trainer.commands.score import print_scores

    print()
    print_scores(scores)
