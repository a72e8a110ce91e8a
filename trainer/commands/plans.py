"""`tenthwise plans`: the plans that are shipped, what one says, what is wrong with one's own."""

from pathlib import Path
from typing import Annotated, Any

import typer

from trainer.commands.options import JsonOption
from trainer.commands.output import as_typed, print_json, typed_number, whole_file
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.practice import conditions
from trainer.practice import plans as shipped_plans
from trainer.practice.kinds import KINDS
from trainer.practice.plan import Plan, UnusablePlan, load

plans = typer.Typer(no_args_is_help=True, help="List, show, check and copy plans.")

FINEST_PX_PER_MM, COARSEST_PX_PER_MM = 1000.0, 0.5


@plans.command("list")
def list_(json: JsonOption = False) -> None:
    """List the shipped plans, in the order in which they are best taken.

    Example: tenthwise plans list
    """
    found = shipped_plans.shipped()
    if json:
        print_json({"plans": [plan.to_dict() for plan in found]})
        return
    width = max(len(plan.name) for plan in found)
    for plan in found:
        check = "  check for the record" if plan.for_record else ""
        print(f"{plan.name:<{width}}  {plan.items:>3}  {plan.title}{check}")


@plans.command()
def show(
    name: Annotated[str, typer.Argument(help="A shipped plan's name, or a plan file.")],
    json: JsonOption = False,
) -> None:
    """Show what a plan asks, with every field and default.

    Example: tenthwise plans show judge-metric
    """
    plan = shipped_plans.find(name)
    if json:
        print_json(plan.to_dict())
        return
    kind = KINDS[plan.drill]
    print(plan.title)
    if plan.note:
        print(plan.note)
    print(f"\nThe drill: {kind.summary}.\n")
    for field, value in _fields(plan).items():
        print(f"{field:<18}{value}")


def _fields(plan: Plan) -> dict[str, str]:
    """Return the fields of a plan as its file would say them, defaults included."""
    kind = KINDS[plan.drill]
    title = catalogue.load(plan.instrument).title
    told: dict[str, Any] = {
        "drill": plan.drill,
        "instrument": f"{plan.instrument}  ({title})",
        "items": plan.items,
        "feedback": plan.feedback,
        "for_record": plan.for_record,
        "placement": plan.placement,
        "seconds_each": "no limit" if plan.seconds_each is None else f"{plan.seconds_each:g}",
        "exposure_seconds": "no limit" if plan.exposure_seconds is None else f"{plan.exposure_seconds:g}",
    }
    if plan.halves:
        told["halves"] = True
    if plan.true_size:
        told["true_size"] = True
    for setting in kind.settings:
        told[setting.name] = f"{_toml(plan.setting(setting.name))}  ({setting.meaning})"
    told.update({f"viewing.{name}": _toml(value) for name, value in plan.viewing.items()})
    return {name: _toml(value) if isinstance(value, bool) else str(value) for name, value in told.items()}


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_toml, value))}]" if value else "the customary series"
    return str(value)


@plans.command()
def check(
    files: Annotated[list[Path], typer.Argument(help="Plan files.")],
    px_per_mm: Annotated[
        str | None,
        typer.Option(
            "--px-per-mm",
            metavar="NUMBER",
            help="Warn also of what a screen of so many pixels to a millimetre cannot show.",
        ),
    ] = None,
    json: JsonOption = False,
) -> None:
    """Say whether plan files are usable; if not, every fault with its line and the remedy.

    Example: tenthwise plans check my-drill.toml
    """
    scale = None
    if px_per_mm is not None:
        scale = typed_number(px_per_mm, "--px-per-mm", COARSEST_PX_PER_MM, FINEST_PX_PER_MM)
    results = [_checked(file, scale) for file in files]
    if json:
        print_json({"files": results})
    else:
        for result in results:
            for fault in result["faults"]:
                print(fault)
            for warning in result["warnings"]:
                print(f"{result['file']}: warning: {warning}")
            if result["usable"]:
                print(f"{result['file']}: usable: {result['title']}")
    if not all(result["usable"] for result in results):
        raise typer.Exit(1)


def _checked(file: Path, px_per_mm: float | None) -> dict[str, Any]:
    try:
        plan = load(file)
    except UnusablePlan as refusal:
        faults = str(refusal).splitlines()
        return {"file": str(file), "usable": False, "title": None, "faults": faults, "warnings": []}
    warnings: list[str] = []
    if px_per_mm is not None:
        warnings = list(conditions.warnings(plan, catalogue.load(plan.instrument), px_per_mm))
    return {"file": str(file), "usable": True, "title": plan.title, "faults": [], "warnings": warnings}


@plans.command()
def copy(
    name: Annotated[str, typer.Argument(help="A shipped plan's name.")],
    file: Annotated[Path, typer.Argument(help="The file to write, such as my-drill.toml.")],
) -> None:
    """Copy a shipped plan to a file of your own, to be changed there.

    Example: tenthwise plans copy judge-metric my-drill.toml
    """
    files = shipped_plans.shipped_files()
    if name not in files:
        shipped_plans.find(name)  # refuses an unknown name with the near ones
        raise Refusal(f"{name} is a file already; copy takes the name of a shipped plan")
    target = file / f"{name}.toml" if file.is_dir() else file
    if target.exists():
        raise Refusal(f"{target} is there already; choose another name, nothing was overwritten")
    if target.suffix != ".toml":
        raise Refusal(f"{target} does not end in .toml, by which a plan file is known; add it")
    with whole_file(target) as temporary:
        temporary.write_bytes(files[name].read_bytes())
    print(f"{target}: a copy of {name}; change it, then: tenthwise plans check {as_typed(target)}")
