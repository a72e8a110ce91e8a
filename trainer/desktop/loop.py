"""The loop: everything that touches the outside is handed in, so that a whole drill is one test."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

from trainer.desktop.app import App, Fitter, Rooms, advance, opened, wake_s
from trainer.desktop.clock import Clock
from trainer.desktop.events import Event, Tick
from trainer.desktop.performer import Broken, Performer
from trainer.desktop.screen import Effect

Poll = Callable[[float | None], Sequence[Event]]  # seconds to wait at most, None for ever
Show = Callable[[App], None]
Crashed = Callable[[Exception], Any]  # writes the details; returns the screen that tells


def run(
    app: App,
    effects: Sequence[Effect],
    *,
    poll: Poll,
    show: Show,
    save: Performer,
    clock: Clock,
    fitter: Fitter,
    rooms: Rooms,
    crashed: Crashed,
    own: Callable[[Effect], bool] = lambda effect: False,
) -> App:
    """Run until no page is left; return the window as it was at the end.

    `own` takes the effects that only the window itself can carry out and returns whether it did.
    A fault that nobody foresaw opens the screen of `crashed`, once; a second one of that screen is raised.
    Work that was asked for before the fault is still done.
    """
    shown: App | None = None
    waiting: list[Event] = []
    work = list(effects)
    while True:
        try:
            if app.pages and app is not shown:
                show(app)
                shown = app
            todo, work = work, []
            waiting += save.start([e for e in todo if not own(e)])
            if not app.pages:
                break
            if not waiting:
                waiting += poll(wake_s(app))
                waiting += save.arrived()
            waiting = waiting or [Tick(clock())]
            while waiting and app.pages and not work:
                app, more = advance(app, waiting.pop(0), fitter, rooms)
                work += more
        except Exception as fault:
            if app.pages and getattr(app.top.screen, "last_resort", False):
                if isinstance(fault, Broken):
                    continue  # work begun before the first fault, of which the screen tells already
                raise
            with suppress(Exception):  # the first fault is the one to tell
                save.start(work)  # asked for and not begun: an answer among it must not be lost
            work, waiting = [], []
            app = replace(app, pages=(opened(crashed(fault), app.desk, fitter),), toast="")
    save.close()
    return app
