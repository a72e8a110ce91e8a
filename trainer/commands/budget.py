"""`tenthwise budget`: an uncertainty budget evaluated by the GUM and by chance, side by side."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import refuse_ending, tell_written
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.reports.quote import Quote
    from trainer.scoring.montecarlo import Agreement, MonteCarlo
    from trainer.scoring.propagation import BudgetResult

DRAWN = (".png", ".pdf")


def budget(
    file: Annotated[
        str, typer.Argument(metavar="FILE.toml", help="A budget's file, or a shipped one's name.")
    ],
    figure: Annotated[
        Path | None, typer.Option("--figure", metavar="FILE", help="Draw the contributions (.png or .pdf).")
    ] = None,
    second_order: Annotated[
        bool, typer.Option("--second-order", help="Add the second-order terms of JCGM 100, 5.1.2.")
    ] = False,
    digits: Annotated[
        int, typer.Option("--digits", min=1, max=3, help="Significant digits of u to agree on.")
    ] = 1,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the Monte Carlo trials.")] = 1,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Evaluate an uncertainty budget: combined and expanded uncertainty, with Monte Carlo beside it.

    Example: tenthwise budget shaft --figure shaft.pdf

    The file holds a model, its inputs (value with u, or half_width and distribution, df) and correlations.
    An input with from_person = "Kim" takes its uncertainty from that person's readings in the archive.
    Shipped: shaft, micrometer-calibration.
    """
    import numpy as np

    from trainer.commands.budget_file import load
    from trainer.scoring.montecarlo import validate
    from trainer.scoring.propagation import evaluate

    refuse_ending(figure, DRAWN)
    read, quotes = load(find(file), Quoter(archive))
    result = evaluate(read, second_order=second_order)
    chance, agreement = validate(read, result, np.random.default_rng(seed), digits=digits)
    if figure is not None:
        _draw(figure, result, chance)
    if json:
        _print_json(result, chance, agreement, quotes, seed)
    else:
        _print(result, chance, agreement, quotes)
    if figure is not None:
        tell_written(figure)


def shipped_files() -> dict[str, Path]:
    """Return the shipped budgets by name."""
    from trainer.practice.plans import shipped_folder

    return {path.stem: path for path in sorted((shipped_folder() / "budgets").glob("*.toml"))}


def find(name_or_path: str) -> Path:
    """Return the file of a shipped budget, or the path itself."""
    shipped = shipped_files()
    if name_or_path in shipped:
        return shipped[name_or_path]
    path = Path(name_or_path)
    if not path.exists() and path.suffix != ".toml":
        raise Refusal(f"there is no budget {name_or_path!r}; name a file, or one of {', '.join(shipped)}")
    return path


class Quoter:
    """Quotes people from the archive, which is opened only when a budget asks for somebody."""

    def __init__(self, archive: str | None) -> None:
        self.archive = archive

    def __call__(self, people: list[str], everybody: bool, fields: "Mapping[str, Any]") -> "Quote":
        """Return the quote that an input asks for."""
        from trainer.commands.evidence import Wanted, since_date
        from trainer.commands.quote import quoted
        from trainer.records.archive import Archive

        texts = {name: fields.get(name) for name in ("instrument", "since", "from")}
        for name, given in texts.items():
            if given is not None and not isinstance(given, str):
                raise Refusal(f"{name} = {given!r}; write it in quotes")
        with Archive.open(self.archive, create=False) as opened:
            wanted = Wanted(
                texts["instrument"], since_date(texts["since"]), texts["from"], fields.get("practice") is True
            )
            allowed = fields.get("provisional") is True
            return quoted(opened, people, wanted, team=everybody, provisional=allowed)


def _print_json(
    result: "BudgetResult",
    chance: "MonteCarlo",
    agreement: "Agreement",
    quotes: "dict[str, Quote]",
    seed: int,
) -> None:
    from trainer.commands.output import print_json

    print_json(
        {
            "budget": result.to_dict() | {"low": result.low, "high": result.high},
            "monte_carlo": chance.to_dict() | {"seed": seed},
            "agreement": agreement.to_dict(),
            "quotes": {name: quote.to_dict() for name, quote in quotes.items()},
        }
    )


def _print(
    result: "BudgetResult", chance: "MonteCarlo", agreement: "Agreement", quotes: "dict[str, Quote]"
) -> None:
    from trainer.reports.wording import CAUTION, STANDING, aligned, to_match, true_minus, two_figures

    unit = f" {result.unit}" if result.unit else ""
    heading = result.title or result.measurand
    typer.echo(f"{heading}\n{result.measurand} = {result.model}\n")
    rows = [("input", "value", "u", "distribution", "df", "sensitivity", "contribution", "share")]
    for line in result.lines:
        share = "–" if line.share is None else f"{100 * line.share:.1f} %"
        df = "–" if line.df is None else f"{line.df:.4g}"
        rows.append(
            (
                line.name + (f", {line.unit}" if line.unit else ""),
                true_minus(f"{line.value:.9g}"),
                f"{line.u:.4g}",
                line.distribution,
                df,
                true_minus(f"{line.sensitivity:.4g}"),
                f"{line.contribution:.4g}",
                share,
            )
        )
    typer.echo("\n".join(aligned(rows)))
    for line in result.lines:
        if line.note:
            typer.echo(f"  {line.name}: {line.note}")
    df = "without limit" if result.df is None else f"{result.df:.1f}"
    percent = f"{100 * result.probability:g} %"
    low, high = (to_match(end, result.u) for end in (chance.low, chance.high))
    spread = "none" if chance.u is None else two_figures(chance.u) + unit
    facts = [
        ("estimate", f"{to_match(result.estimate, result.u)}{unit}"),
        ("standard uncertainty", f"{two_figures(result.u)}{unit}"),
        ("effective degrees of freedom", df),
        (f"expanded uncertainty, {percent}", f"{two_figures(result.expanded)}{unit} (k = {result.k:.2f})"),
        ("Monte Carlo, standard uncertainty", f"{spread} ({chance.trials} trials)"),
        (f"Monte Carlo, {percent} from", f"{low} to {high}{unit}"),
    ]
    typer.echo("\n" + "\n".join(f"{name:<34}{text}" for name, text in facts))
    said = [agreement.sentence, *result.notes, *chance.reasons.values()]
    settings = dict.fromkeys(quote.setting for quote in quotes.values())
    said += [CAUTION[setting] for setting in settings]
    said += [f"{name}: {note}" for name, quote in quotes.items() for note in quote.notes]
    typer.echo("\n".join(f"- {one}" for one in [*said, STANDING]))


def _draw(path: Path, result: "BudgetResult", chance: "MonteCarlo") -> None:
    from trainer.reports import budget_figure
    from trainer.reports.files import write_whole

    write_whole(path, budget_figure.drawn(result, chance, path.suffix.lower()))
