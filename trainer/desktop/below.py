"""The library below pygame, the very copy that pygame has loaded: asked for what pygame does not tell.

Two things are wanted of it: a true wait for events, where pygame's own looks a thousand times a second and
never lets the processor rest, and the names of the displays. Where it is not found, pygame's ways are kept.
"""

import ctypes
import sys
from functools import cache
from pathlib import Path

import pygame

VIDEO = 0x20  # the part of the library that has displays and windows


@cache
def library() -> ctypes.CDLL | None:
    """Return the library from beside pygame; None where it is not to be found."""
    home = Path(pygame.__file__).parent
    places = {
        "win32": [home / "SDL2.dll"],
        "darwin": sorted((home / ".dylibs").glob("libSDL2-2*.dylib")),
    }.get(sys.platform, sorted((home.parent / "pygame_ce.libs").glob("libSDL2-2*.so*")))
    path = next((place for place in places if place.is_file()), None)
    try:
        return ctypes.CDLL(str(path)) if path is not None else None
    except OSError:
        return None


def ready() -> ctypes.CDLL | None:
    """Return the library if it has displays open: if not, it is another copy than pygame's."""
    found = library()
    return found if found is not None and found.SDL_WasInit(VIDEO) else None


def wait(milliseconds: int) -> bool:
    """Wait for an event, -1 for ever, and leave it in the queue; return False where that cannot be done here.

    Other threads run meanwhile, and an event posted by one of them ends the wait.
    """
    found = ready()
    if found is None:
        return False
    found.SDL_WaitEventTimeout(None, milliseconds)
    return True
