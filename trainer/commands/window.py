"""Opening the window: joins the archive, the plans and the desktop."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import __version__
from trainer.commands.own_plans import all_plans, delete_plan, save_plan
from trainer.drawing.painter import DRAWING_VERSION
from trainer.practice.plan import Plan

if TYPE_CHECKING:
    from trainer.desktop.limits import Limits
    from trainer.desktop.signing import Office
    from trainer.records.archive import Archive


def open_window(
    where: str | None = None,
    *,
    plan: Plan | None = None,
    person: str | None = None,
    new_person: bool = False,
    ticket: str = "",
) -> int:
    """Open the window on an archive and return the exit code; with `plan` and `person`, at that drill.

    `ticket` names the check that a supervisor opened; one that does not serve is refused here.

    The archive is opened by the window in a thread after its first picture, so that nothing waits for the
    database library; only when a person is named it is looked into first, to refuse an unknown one here.
    """
    from trainer.desktop import program

    if person is not None:
        _known(where, person, new_person=new_person)
    if ticket and plan is not None and person is not None:
        from trainer.commands.guarding import look_at_ticket

        with _open(where) as archive:
            look_at_ticket(archive, ticket, person, plan)
    folder = own_folder()
    usable, troubles, own = all_plans(folder / "plans")
    given = program.Given(
        open_store=lambda: _open(where),
        plans=usable,
        plan_troubles=troubles,
        own_plans=own,
        save_plan=lambda made, replaces: save_plan(folder / "plans", made, replaces),
        delete_plan=lambda gone: delete_plan(folder / "plans", gone),
        limits=_limits_of,
        open_office=lambda: _office(folder),
        plan=plan,
        person=person or "",
        ticket=ticket.strip().casefold(),
        folder=folder,
        program_version=__version__,
        drawing_version=DRAWING_VERSION,
    )
    return program.run(given)


def _limits_of(archive: Any, person: Any, instruments: Sequence[str]) -> "Mapping[str, Limits]":
    from trainer.commands.limits import limits_of

    return limits_of(archive, person, instruments)


def own_folder() -> Path:
    """Return the folder of the program's own files for this user, without making it."""
    import platformdirs

    return Path(platformdirs.user_data_dir("tenthwise", appauthor=False))


def _office(folder: Path) -> "Office":
    from trainer.commands.window_signoff import WindowOffice

    return WindowOffice(folder / "criteria", documents_folder())


def documents_folder() -> Path:
    """Return the folder where statements are written unless another one is named, without making it."""
    import platformdirs

    return Path(platformdirs.user_documents_dir()) / "Tenthwise"


def _known(where: str | None, person: str, *, new_person: bool) -> None:
    """Refuse an unknown person before a window opens; add a new one if that was asked for."""
    with _open(where) as archive:
        if new_person:
            archive.add_person(person)
        archive.person(person)


def _open(where: str | None) -> "Archive":
    from trainer.records.spool import open_archive

    return open_archive(where)
