"""Opening the window: joins desk, screens, store, painter and the real window."""

import gc
import os
import socket
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.desktop import settings as settings_file
from trainer.desktop import window as shell  # first, because it sets the display hints before pygame loads
from trainer.desktop.app import App, Fitter, begin
from trainer.desktop.desk import Desk
from trainer.desktop.hands import Clipboard
from trainer.desktop.limits import LimitsOf
from trainer.desktop.loop import run as run_loop
from trainer.desktop.performer import InThread
from trainer.desktop.pictures import Gallery
from trainer.desktop.screens.crash import Crash
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.store import Store
from trainer.desktop.words import say
from trainer.desktop.work import Services
from trainer.practice.plan import Plan

if TYPE_CHECKING:
    from trainer.desktop.signing import Office


@dataclass(frozen=True, slots=True)
class Given:
    """What the command that opens the window hands in.

    `open_store` opens the archive and is called in a thread, after the first picture. `plans` and
    `plan_troubles` are the usable plans and the sentences about the others. With `person` that person is
    chosen, and with `plan` too the window opens at that drill. `folder` keeps settings and crash details,
    None for nowhere.
    """

    open_store: Callable[[], Store]
    plans: Sequence[Plan] = ()
    plan_troubles: Sequence[str] = ()
    own_plans: Sequence[str] = ()  # names of those that may be changed
    save_plan: Callable[[Plan, Plan | None], Plan] | None = None
    delete_plan: Callable[[Plan], None] | None = None
    limits: LimitsOf | None = None  # the limits shown in a person's figures
    plan: Plan | None = None
    person: str = ""
    ticket: str = ""  # of the guarded check to open at
    open_office: "Callable[[], Office] | None" = None  # of the sign-off
    folder: Path | None = None
    program_version: str = ""
    drawing_version: str = ""


def run(given: Given) -> int:
    """Open the window and work until it is closed; return the exit code. Raises window.NoScreen."""
    gc.disable()  # until the libraries are loaded: see _loaded
    clock = time.perf_counter  # finer than time.monotonic on Windows, where answers are timed by it
    path = given.folder / "window.json" if given.folder is not None else None
    settings = settings_file.load(path, settings_file.local_decimal())
    if given.person:
        settings = replace(settings, last_person=given.person)
    tongues, trouble = _tongues(settings.language)
    window = shell.Window(
        say("window.title"), settings.window, settings.full_screen, clock, maximised=settings.maximised
    )
    gallery = Gallery(wake=window.wake)
    clip = shell.SystemClipboard()
    fitter = Fitter(Clipboard(clip.read, clip.write))
    services = Services(
        given.open_store,
        fresh_seed,
        path,
        given.save_plan,
        given.delete_plan,
        limits=given.limits,
        open_office=given.open_office,
    )
    performer = InThread(services, window.wake, _loaded)
    app, effects = begin(
        replace(
            _desk(given, settings, window, clock()),
            languages=tongues,
            plan_troubles=(*given.plan_troubles, *trouble),
        ),
        Home(start=given.plan, ticket=given.ticket),
        fitter,
    )

    def show(app: App) -> None:
        window.show(app, fitter, gallery)

    def crashed(fault: Exception) -> Any:
        return Crash.of(fault, details(fault, given.folder))

    last = run_loop(
        app,
        effects,
        poll=window.poll,
        show=show,
        save=performer,
        clock=clock,
        fitter=fitter,
        rooms=ROOMS,
        crashed=crashed,
        own=window.own,
    )
    kept = replace(last.desk.settings, window=window.place, maximised=window.maximised)
    window.close()
    try:
        settings_file.save(kept, path)
    except OSError:
        return 0  # the place of the window is not worth a complaint after it has gone
    return 0


def _tongues(chosen: str) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Speak the chosen language, and return the languages there are and a sentence about each faulty file.

    The catalogue of each is read before the first picture; without translations that costs nothing.
    """
    from trainer.desktop import languages, words

    found, troubles = [], []
    for name in languages.names():
        try:
            language = languages.load(languages.FOLDER / f"{name}.toml", words.ENGLISH)
        except languages.UnusableLanguage as fault:
            troubles.append(str(fault))
            continue
        found.append((language.name, language.title))
        if name == chosen:
            words.use(language.texts, language.shipped)
    return tuple(found), tuple(troubles)


def _loaded(what: str) -> None:
    """Load, in the thread of the work, what the next picture of Home wants; then see to the collector.

    Once the scientific libraries are loaded the collector works again, and never looks at them: their
    hundreds of thousands of objects stay for good, and each full look would hold the main thread up for
    some 45 ms.
    """
    if what == "loadpeople":
        from trainer.desktop import signing_work  # noqa: F401
        from trainer.desktop.screens import figures  # noqa: F401
    if what == "warm":
        gc.freeze()
        gc.enable()


def fresh_seed() -> int:
    """Return 63 random bits that nobody can know beforehand."""
    import secrets

    return secrets.randbits(63)


def _desk(given: Given, settings: settings_file.Settings, window: shell.Window, now_s: float) -> Desk:
    on = window.on
    return Desk(
        settings=settings,
        size=window.size,
        auto_scale=on.auto_scale,
        plans=tuple(given.plans),
        plan_troubles=tuple(given.plan_troubles),
        own_plans=frozenset(given.own_plans),
        display_name=on.name,
        resolution=on.resolution,
        station=socket.gethostname(),
        program_version=given.program_version,
        drawing_version=given.drawing_version,
        began_utc=datetime.now(UTC),
        began_s=now_s,
        now_s=now_s,
    )


def details(fault: BaseException, folder: Path | None) -> Path | None:
    """Write what happened into a file of its own and return where; None where that failed too."""
    import platform
    import tempfile
    import traceback

    text = "".join(traceback.format_exception(fault))
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    for place in (folder, Path(tempfile.gettempdir())):
        if place is None:
            continue
        try:
            place.mkdir(parents=True, exist_ok=True)
            path = place / f"fault-{stamp}-{os.getpid()}.txt"
            path.write_text(f"{platform.platform()}\n{text}", encoding="utf-8")
        except OSError:
            continue
        return path
    return None
