"""`tenthwise draw`: one instrument at one reading, as a picture, a true-scale PDF, or its geometry."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import JsonOption, OutOption
from trainer.commands.output import print_json, refuse_ending, tell_written, typed_number, typed_size
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.drawing.viewing import Viewing
    from trainer.instrument.micrometer import Micrometer, State


class Undrawable(Refusal):
    """A picture cannot be drawn as asked; the sentence says why and what to change."""


def draw(
    reading: Annotated[str, typer.Option(metavar="NUMBER", help="The reading, in the instrument's unit.")],
    instrument: Annotated[str, typer.Option(metavar="NAME", help="A name from the catalogue.")] = "metric",
    px_per_mm: Annotated[str, typer.Option(metavar="NUMBER", help="Pixels to a millimetre.")] = "20",
    size: Annotated[
        str | None, typer.Option(metavar="WIDTHxHEIGHT", help="Pixels; the default shows the whole scale.")
    ] = None,
    out: OutOption = None,
    plain: Annotated[
        bool,
        typer.Option("--plain", help="No texture, shading, numerals or knurl: bright metal, dark lines."),
    ] = False,
    roll: Annotated[
        str | None,
        typer.Option(
            metavar="DEG",
            help="Turn the instrument about its axis; a vernier is turned into view by default.",
        ),
    ] = None,
    json: JsonOption = False,
) -> None:
    """Draw an instrument at a reading, as a PNG picture or as a PDF at true scale.

    Example: tenthwise draw --instrument metric --reading 7.3742 --px-per-mm 20 --out reading.png
    """
    from trainer.drawing import viewing
    from trainer.drawing.eyesight import too_small
    from trainer.drawing.geometry import geometry
    from trainer.instrument import catalogue
    from trainer.instrument.micrometer import State

    if out is None and not json:
        raise typer.BadParameter("give --out FILE for a picture, --json for the geometry, or both")
    refuse_ending(out, (".png", ".pdf"))
    micrometer = catalogue.load(instrument)
    state = State(micrometer, _position(reading, micrometer))
    turn = viewing.vernier_roll_deg(micrometer) if roll is None else typed_number(roll, "--roll")
    seen = viewing.Viewing(typed_number(px_per_mm, "--px-per-mm"), plain=plain, roll_deg=turn)
    size_px = viewing.fitting_size(micrometer, seen.px_per_mm) if size is None else typed_size(size, "--size")
    placed = geometry(state, seen, size_px)
    caution = too_small(micrometer, seen)
    if caution is not None and (out is None or out.suffix.lower() != ".pdf"):  # paper has no pixels
        typer.echo(f"note: {caution}", err=True)
    if out is not None:
        _write(out, state, seen, size_px)
        tell_written(out)
    if json:
        print_json(placed.to_dict())


def _position(reading: str, micrometer: "Micrometer") -> float:
    from trainer.instrument import typed

    position = typed.reading(reading, micrometer)
    if not micrometer.holds(position):
        low, high = (f"{float(end):g}" for end in (micrometer.low, micrometer.high))
        raise Undrawable(
            f"--reading {reading} is outside the instrument's scale; "
            f"{micrometer.name} reads from {low} to {high} {micrometer.unit}"
        )
    return position


def _write(out: Path, state: "State", seen: "Viewing", size_px: tuple[int, int]) -> None:
    """Write the picture in the format that the file's ending names."""
    if out.suffix.lower() == ".pdf":
        from trainer.drawing import paper
        from trainer.drawing.scene import scene
        from trainer.drawing.viewing import EDGE_SHARE

        width, height = (side / seen.px_per_mm for side in size_px)
        shown = scene(state, seen, left_mm=width * EDGE_SHARE)
        paper.write_pdf(out, [paper.single(shown, width, height, EDGE_SHARE)], state.micrometer.title)
        return
    from trainer.drawing import png
    from trainer.drawing.painter import DRAWING_VERSION, Painter

    painter = Painter(state.micrometer, state.faults, seen, size_px)
    texts = {"Title": state.micrometer.title, "Software": f"tenthwise drawing {DRAWING_VERSION}"}
    png.write(out, painter.paint(state.position_tenths), seen.px_per_mm, texts)
