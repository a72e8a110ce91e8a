"""The rooms of the rail, in its order: a name and what makes the screen.

Each is imported when it is first made; the first picture needs only Home.
"""

from collections.abc import Callable
from importlib import import_module
from typing import Any

PLACES = {
    "home": ("home", "Home"),
    "people": ("people", "People"),
    "plans": ("plans", "Plans"),
    "progress": ("progress", "Progress"),
    "team": ("team", "TeamView"),
    "signoff": ("signoff", "Signoff"),
    "display": ("display", "DisplaySetup"),
    "settings": ("preferences", "Preferences"),
    "help": ("help", "Help"),
}


def _maker(module: str, name: str) -> Callable[[], Any]:
    def make() -> Any:
        return getattr(import_module(f"trainer.desktop.screens.{module}"), name)()

    return make


ROOMS: dict[str, Callable[[], Any]] = {room: _maker(*place) for room, place in PLACES.items()}


def warm() -> None:
    """Import every screen, so that the first visit to one does not wait."""
    for module, _ in PLACES.values():
        import_module(f"trainer.desktop.screens.{module}")
    for module in (
        "begin", "drill", "result", "plan_form", "people_dialogs", "who", "unlock", "signoff_case",
        "signoff_check", "signoff_attest", "signoff_accounts", "signoff_forms",
    ):  # fmt: skip
        import_module(f"trainer.desktop.screens.{module}")
