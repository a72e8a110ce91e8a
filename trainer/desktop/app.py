"""The window as a value: the desk and the stack of pages; an event gives the next value and work to do."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from trainer.desktop import events, work
from trainer.desktop.desk import Desk
from trainer.desktop.fonts import Type
from trainer.desktop.hands import Clipboard, Hands, focus_on
from trainer.desktop.layout import Layout, place
from trainer.desktop.look import next_scale
from trainer.desktop.measure import Measure
from trainer.desktop.messages import Back, Message, Pasted, Pressed
from trainer.desktop.respond import respond
from trainer.desktop.screen import Effect, Outcome
from trainer.desktop.settings import Settings
from trainer.desktop.ui import Memory, Ui
from trainer.desktop.words import say
from trainer.instrument.sentence import Sentence

TOAST_S = 5.0
TIP_S = 0.6  # seconds the pointer rests before a tip is shown


@dataclass(frozen=True, slots=True)
class Page:
    """A screen with the state of its widgets."""

    screen: Any
    ui: Ui = field(default_factory=Ui)


@dataclass(frozen=True, slots=True)
class App:
    """The whole window. It closes when there is no page left."""

    desk: Desk
    pages: tuple[Page, ...]
    toast: str = ""
    toast_until_s: float = 0.0

    @property
    def top(self) -> Page:
        """The page that events go to."""
        return self.pages[-1]


class Fitter:
    """Lays pages out; keeps the type of each scale and the last layouts, which are values too."""

    def __init__(self, clipboard: Clipboard | None = None) -> None:
        self.clipboard = clipboard or Clipboard()
        self._types: dict[float, Type] = {}
        self._last: list[tuple[Page, Desk, Layout]] = []

    def measure(self, desk: Desk) -> Measure:
        """Return the measures of the scale in use."""
        scale = desk.drawn_scale
        if scale not in self._types:
            if len(self._types) > 3:
                self._types.clear()
            self._types[scale] = Type(scale)
        return Measure(self._types[scale])

    def layout(self, page: Page, desk: Desk) -> Layout:
        """Return where everything of a page stands."""
        for kept, kept_desk, layout in self._last:
            if kept is page and kept_desk is desk:
                return layout
        layout = place(page.screen.view(desk), desk.size, self.measure(desk).type, page.ui.scroll)
        self._last = [*self._last[-3:], (page, desk, layout)]
        return layout

    def hands(self, page: Page, desk: Desk) -> Hands:
        """Return what responding on a page needs."""
        return Hands(self.layout(page, desk), self.measure(desk), self.clipboard)


Step = tuple[App, tuple[Effect, ...]]
Rooms = Mapping[str, Callable[[], Any]]


def begin(desk: Desk, screen: Any, fitter: Fitter) -> Step:
    """Return the window with its first screen, and the work to start with."""
    app = App(desk, (opened(screen, desk, fitter),))
    return app, (work.LoadPeople(), *screen.begin(desk), work.Warm())


def opened(screen: Any, desk: Desk, fitter: Fitter) -> Page:
    """Return a screen as a page, the focus where the screen wants it first."""
    page = Page(screen)
    wanted = screen.first_focus(desk)
    layout = fitter.layout(page, desk)
    # the rail never has the first focus: the matter of the screen does, as soon as there is any
    keys = [p.key for p in layout.focusable if not p.key.startswith("rail:")]
    key = wanted if layout.find(wanted) else (keys[0] if keys else "")
    return replace(page, ui=focus_on(page.ui, fitter.hands(page, desk), key)) if key else page


def advance(app: App, event: events.Event, fitter: Fitter, rooms: Rooms) -> Step:
    """Return the window after an event, and the work that follows from it."""
    at_s = getattr(event, "at_s", app.desk.now_s) or app.desk.now_s
    desk = app.desk if at_s <= app.desk.now_s else replace(app.desk, now_s=at_s)
    if app.toast and desk.now_s >= app.toast_until_s:
        app = replace(app, toast="")
    if desk is not app.desk:
        app = replace(app, desk=desk)
    match event:
        case events.Resized(width, height):
            app = replace(app, desk=replace(desk, size=(width, height)))
            desk = app.desk
        case events.OnDisplay():
            app = _on_display(app, event)
            desk = app.desk
        case events.CloseAsked(at_s, at_once):
            return _closed(app, at_s, fitter, rooms, at_once)
        case events.Arrived() | events.Refused():
            return _delivered(app, event, fitter, rooms)
        case events.Key(ctrl=True) | events.Key(name="f1" | "f11"):
            found = _shortcut(app, event, fitter, rooms)
            if found is not None:
                return found
    page = app.top
    ui, messages = respond(page.ui, fitter.hands(page, desk), event)
    if ui is not page.ui:
        app = replace(app, pages=(*app.pages[:-1], replace(page, ui=ui)))
    return _told(app, messages, fitter, rooms)


def _on_display(app: App, event: events.OnDisplay) -> App:
    """Take the display onto the desk, and say if it was never set up while others were."""
    desk = replace(
        app.desk, display_name=event.name, resolution=event.resolution, auto_scale=event.auto_scale
    )
    if desk.display is None and desk.settings.displays and app.desk.display_name != event.name:
        return replace(app, desk=desk, toast=say("home.display"), toast_until_s=desk.now_s + TOAST_S)
    return replace(app, desk=desk)


def _told(app: App, messages: tuple[Message, ...], fitter: Fitter, rooms: Rooms) -> Step:
    effects: tuple[Effect, ...] = ()
    for message in messages:
        if not app.pages:
            break
        if isinstance(message, Pasted):
            said = say("field.cut", n=message.kept) if message.kept else say("field.nothing")
            app = replace(app, toast=said, toast_until_s=app.desk.now_s + TOAST_S)
            continue
        if isinstance(message, Pressed) and message.key.startswith("rail:") and app.top.screen.guarded:
            message = Back(message.at_s)  # such a screen is left by its own ways
        if isinstance(message, Pressed) and message.key.startswith("rail:"):
            app, more = _switched(app, rooms[message.key[5:]](), fitter)
        else:
            outcome = app.top.screen.react(message, app.desk)
            app, more = applied(app, len(app.pages) - 1, outcome, fitter, rooms)
        effects += more
    return app, effects


def _delivered(app: App, event: events.Arrived | events.Refused, fitter: Fitter, rooms: Rooms) -> Step:
    """Tell every page what arrived, the lowest first; only the top one may open or close screens."""
    if isinstance(event, events.Refused) and isinstance(event.reason, Sentence):
        event = replace(event, reason=app.desk.sentence(event.reason))
    app = _noticed(app, event)
    effects: tuple[Effect, ...] = ()
    for index in range(len(app.pages)):
        if index < len(app.pages):
            outcome = app.pages[index].screen.react(event, app.desk)
            app, more = applied(app, index, outcome, fitter, rooms)
            effects += more
    return app, effects


def _noticed(app: App, event: events.Arrived | events.Refused) -> App:
    """Take what concerns everybody onto the desk: the list of people, an archive that will not open."""
    desk = app.desk
    match event:
        case events.Refused("loadpeople", reason):
            return replace(app, desk=replace(desk, people=(), trouble=reason))
        case events.Arrived("loadpeople", people):
            assert isinstance(people, tuple)
            person = desk.person
            wanted = person.id if person else None
            found = [
                p for p in people if p.id == wanted or (not person and p.name == desk.settings.last_person)
            ]
            only = people[0] if len(people) == 1 else None
            now = found[0] if found else only
            return replace(app, desk=replace(desk, people=people, person=now, trouble=""))
    return app


def applied(app: App, index: int, outcome: Outcome, fitter: Fitter, rooms: Rooms) -> Step:
    """Return the window after an outcome of the page at `index`, and the work to do."""
    effects = outcome.effects
    if outcome.desk:
        desk = replace(app.desk, **outcome.desk)
        if desk.settings != app.desk.settings:
            effects = (*effects, work.SaveSettings(desk.settings))
        app = replace(app, desk=desk)
    if outcome.toast:
        app = replace(app, toast=outcome.toast, toast_until_s=app.desk.now_s + TOAST_S)
    if (outcome.screen is not None and outcome.go == "stay") or index != len(app.pages) - 1:
        page = app.pages[index]
        if outcome.screen is not None and outcome.go == "stay":
            pages = list(app.pages)
            pages[index] = _settled(replace(page, screen=outcome.screen), app.desk, fitter)
            app = replace(app, pages=tuple(pages))
        app = _focused(app, outcome.focus, fitter)
        return app, effects
    moved, more = _gone(app, outcome, fitter, rooms)
    return _focused(moved, outcome.focus, fitter), (*effects, *more)


def _focused(app: App, key: str, fitter: Fitter) -> App:
    if not key or not app.pages:
        return app
    page = app.top
    ui = focus_on(page.ui, fitter.hands(page, app.desk), key)
    return replace(app, pages=(*app.pages[:-1], replace(page, ui=ui)))


def _settled(page: Page, desk: Desk, fitter: Fitter) -> Page:
    """Keep the focus on something that is there, and fields' carets inside texts that changed."""
    layout = fitter.layout(page, desk)
    placed = layout.find(page.ui.focus)
    if placed is None or not getattr(placed.node, "enabled", True):
        wanted = page.screen.first_focus(desk)
        keys = [p.key for p in layout.focusable if not p.key.startswith("rail:")]
        key = wanted if wanted in keys else (keys[0] if keys else "")
        return replace(page, ui=focus_on(page.ui, fitter.hands(page, desk), key)) if key else page
    memory = page.ui.memory.get(page.ui.focus)
    length = len(getattr(placed.node, "value", "")) if hasattr(placed.node, "hint") else None
    if memory is not None and length is not None and max(memory.caret, memory.anchor) > length:
        kept = Memory(caret=length, anchor=length)
        return replace(page, ui=replace(page.ui, memory={**page.ui.memory, page.ui.focus: kept}))
    return page


def _gone(app: App, outcome: Outcome, fitter: Fitter, rooms: Rooms) -> Step:
    desk = app.desk
    match outcome.go:
        case "open":
            page = opened(outcome.screen, desk, fitter)
            return replace(app, pages=(*app.pages, page)), tuple(outcome.screen.begin(desk))
        case "replace":
            page = opened(outcome.screen, desk, fitter)
            return replace(app, pages=(*app.pages[:-1], page)), tuple(outcome.screen.begin(desk))
        case "switch":
            return _switched(app, outcome.screen or rooms["home"](), fitter)
        case "close":
            below = app.pages[:-1]
            if not below:
                return _switched(app, rooms["home"](), fitter)
            begun = () if app.top.screen.modal else tuple(below[-1].screen.begin(desk))
            app = replace(app, pages=below)
            if outcome.onward is not None:
                app, more = _told(app, (outcome.onward,), fitter, rooms)
                return app, (*begun, *more)
            return app, begun
        case "quit":
            return _closed(app, desk.now_s, fitter, rooms, at_once=True)
    return app, ()


def _closed(app: App, at_s: float, fitter: Fitter, rooms: Rooms, at_once: bool = False) -> Step:
    """Close the window, or have the screen ask first where something is under way; asked twice, it closes."""
    asked = None if at_once else app.top.screen.ask_first(at_s, app.desk)
    if asked is not None:
        return applied(app, len(app.pages) - 1, asked, fitter, rooms)
    return replace(app, pages=()), tuple(e for p in app.pages for e in p.screen.closing(app.desk))


def _switched(app: App, screen: Any, fitter: Fitter) -> Step:
    page = opened(screen, app.desk, fitter)
    return replace(app, pages=(page,)), tuple(screen.begin(app.desk))


def _shortcut(app: App, event: events.Key, fitter: Fitter, rooms: Rooms) -> Step | None:
    """Act on the keys that mean the same everywhere."""
    settings = app.desk.settings
    if event.ctrl and event.name == "q":
        return None if event.repeat else _closed(app, event.at_s, fitter, rooms)
    if event.name == "f11" and not event.repeat:
        wanted = replace(settings, full_screen=not settings.full_screen)
        step = _with_settings(app, wanted)
        return step[0], (*step[1], work.FullScreen(wanted.full_screen))
    if event.ctrl and event.name in ("+", "=", "-", "0"):
        return _with_settings(app, replace(settings, scale=next_scale(app.desk.scale, event.name)))
    if app.top.screen.modal or app.top.screen.guarded:
        return None
    if event.name == "f1" and not event.repeat:
        return _gone(app, Outcome("open", rooms["help"]()), fitter, rooms)
    if event.ctrl and event.name.isdigit():
        names = list(rooms)
        if 1 <= int(event.name) <= len(names):
            return _switched(app, rooms[names[int(event.name) - 1]](), fitter)
    return None


def _with_settings(app: App, settings: Settings) -> Step:
    return replace(app, desk=replace(app.desk, settings=settings)), (work.SaveSettings(settings),)


def wake_s(app: App) -> float | None:
    """Return after how many seconds the window has to look at the clock; None: when something happens."""
    waits = []
    if app.pages:
        tick = app.top.screen.tick_s(app.desk)
        if tick is not None:
            waits.append(tick)
        since = app.desk.now_s - app.top.ui.hover_since_s
        if app.top.ui.hover and since < TIP_S:
            waits.append(TIP_S - since + 0.01)
    if app.toast:
        waits.append(max(0.01, app.toast_until_s - app.desk.now_s + 0.01))
    return min(waits) if waits else None
