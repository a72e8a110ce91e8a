"""Plans of one's own as files: read beside the shipped ones, written, replaced in place, deleted."""

import dataclasses
import json
import re
from pathlib import Path
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.practice import plans as shipped
from trainer.practice.plan import Plan, load

NAME_TAKEN = "{path}: a plan that comes with the program has this name; give the file another name"


def all_plans(folder: Path) -> tuple[tuple[Plan, ...], tuple[str, ...], tuple[str, ...]]:
    """Return the shipped plans and one's own, a sentence for each own file at fault, and the own names."""
    usable, troubles, names = shipped.shipped(), [], []
    taken = {plan.name for plan in usable}
    for path in sorted(folder.glob("*.toml")):
        try:
            plan = load(path)
        except Refusal as fault:
            troubles.append(str(fault))
            continue
        if plan.name in taken:
            troubles.append(NAME_TAKEN.format(path=path))
            continue
        taken.add(plan.name)
        usable.append(plan)
        names.append(plan.name)
    return tuple(usable), tuple(troubles), tuple(names)


def file_of(folder: Path, name: str) -> Path | None:
    """Return the file of an own plan by the plan's name, None where there is none."""
    found = (path for path in sorted(folder.glob("*.toml")) if re.sub(r"^\d+-", "", path.stem) == name)
    return next(found, None)


def save_plan(folder: Path, plan: Plan, replaces: Plan | None = None) -> Plan:
    """Write a plan of one's own as a file and return it as read back.

    With `replaces`, the plan as it was loaded from its file, that file is replaced, if it still says the
    same; otherwise an existing file is never replaced.
    """
    from trainer.commands.output import whole_file

    folder.mkdir(parents=True, exist_ok=True)
    path = _unchanged(folder, replaces) if replaces is not None else _new(folder, plan.title)
    with whole_file(path) as file:
        file.write_text(plan_text(plan), encoding="utf-8")
    return load(path)


def delete_plan(folder: Path, plan: Plan) -> None:
    """Delete the file of an own plan, if it still says what the plan says."""
    _unchanged(folder, plan).unlink()


def _new(folder: Path, title: str) -> Path:
    stem = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:60] or "plan"
    if stem in shipped.shipped_files() or file_of(folder, re.sub(r"^\d+-", "", stem)) is not None:
        raise Refusal(f"a plan called {stem} is there already; give the plan another title")
    return folder / f"{stem}.toml"


def _unchanged(folder: Path, plan: Plan) -> Path:
    """Return the file of an own plan; refuse one that is gone or was changed since it was read."""
    path = file_of(folder, plan.name)
    if path is None:
        raise Refusal(f"the file of the plan {plan.name} is gone from {folder}; copy the plan to keep it")
    if load(path) != plan:
        raise Refusal(f"{path} was changed by another program since it was read; open the window anew")
    return path


def plan_text(plan: Plan) -> str:
    """Return a plan as the TOML that a person would write: only what differs from the defaults."""
    lines, tables = [], []
    for field in dataclasses.fields(plan):
        value = getattr(plan, field.name)
        if field.name == "name" or value == _default(field):
            continue
        if field.name in ("viewing", "settings"):
            if value:
                tables.append((field.name, value))
        else:
            lines.append(f"{field.name} = {_toml(value)}")
    for name, values in tables:
        if name == "settings":  # fields of one kind of drill stand beside the others
            lines += [f"{key} = {_toml(value)}" for key, value in values.items()]
        else:
            lines += ["", f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in values.items())]
    return "\n".join(lines) + "\n"


def _default(field: "dataclasses.Field[Any]") -> Any:
    return field.default if field.default is not dataclasses.MISSING else object()


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(str(value), ensure_ascii=False)  # a basic TOML string escapes as JSON does
