"""The rooms of the rail, in its order: a name and what makes the screen."""

from collections.abc import Callable
from typing import Any

from trainer.desktop.screens.display import DisplaySetup
from trainer.desktop.screens.help import Help
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.people import People
from trainer.desktop.screens.plans import Plans
from trainer.desktop.screens.preferences import Preferences
from trainer.desktop.screens.progress import Progress
from trainer.desktop.screens.team import TeamView

ROOMS: dict[str, Callable[[], Any]] = {
    "home": Home,
    "people": People,
    "plans": Plans,
    "progress": Progress,
    "team": TeamView,
    "display": DisplaySetup,
    "settings": Preferences,
    "help": Help,
}
