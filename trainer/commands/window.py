"""Opening the window: joins the archive, the plans and the desktop."""

import dataclasses
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import __version__
from trainer.drawing.painter import DRAWING_VERSION
from trainer.instrument.refusal import Refusal
from trainer.practice import plans as shipped
from trainer.practice.plan import Plan, load

if TYPE_CHECKING:
    from trainer.records.archive import Archive


def open_window(
    where: str | None = None,
    *,
    plan: Plan | None = None,
    person: str | None = None,
    new_person: bool = False,
) -> int:
    """Open the window on an archive and return the exit code; with `plan` and `person`, at that drill.

    The archive is opened by the window in a thread after its first picture, so that nothing waits for the
    database library; only when a person is named it is looked into first, to refuse an unknown one here.
    """
    from trainer.desktop import program

    if person is not None:
        _known(where, person, new_person=new_person)
    folder = own_folder()
    usable, troubles = all_plans(folder / "plans")
    given = program.Given(
        open_store=lambda: _open(where),
        plans=usable,
        plan_troubles=troubles,
        save_plan=lambda made: save_plan(folder / "plans", made),
        plan=plan,
        person=person or "",
        folder=folder,
        program_version=__version__,
        drawing_version=DRAWING_VERSION,
    )
    return program.run(given)


def own_folder() -> Path:
    """Return the folder of the program's own files for this user, without making it."""
    import platformdirs

    return Path(platformdirs.user_data_dir("tenthwise", appauthor=False))


def all_plans(folder: Path) -> tuple[tuple[Plan, ...], tuple[str, ...]]:
    """Return the shipped plans and the person's own, and a sentence for each own plan that is at fault."""
    usable, troubles = shipped.shipped(), []
    for path in sorted(folder.glob("*.toml")):
        try:
            usable.append(load(path))
        except Refusal as fault:
            troubles.append(str(fault))
    return tuple(usable), tuple(troubles)


def save_plan(folder: Path, plan: Plan) -> Plan:
    """Write a plan of one's own as a file and return it as read back; an existing file is not replaced."""
    from trainer.commands.output import whole_file

    stem = re.sub(r"[^a-z0-9]+", "-", plan.title.lower()).strip("-")[:60] or "plan"
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{stem}.toml"
    if path.exists():
        raise Refusal(f"a plan called {stem} is there already; give the plan another title")
    with whole_file(path) as file:
        file.write_text(plan_text(plan), encoding="utf-8")
    return load(path)


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
    import json

    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(str(value), ensure_ascii=False)  # a basic TOML string escapes as JSON does


def _known(where: str | None, person: str, *, new_person: bool) -> None:
    """Refuse an unknown person before a window opens; add a new one if that was asked for."""
    with _open(where) as archive:
        if new_person:
            archive.add_person(person)
        archive.person(person)


def _open(where: str | None) -> "Archive":
    from trainer.records.archive import Archive

    return Archive.open(where)
