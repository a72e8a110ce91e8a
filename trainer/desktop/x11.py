"""Which displays are on, as an X server tells it: the library below pygame learns there of plugs alone.

A display that is switched off or given another mode while the window is open stays as it was to that library.
Everywhere else, and where the server or the two libraries of the system are missing, nothing is told.
"""

import ctypes
from dataclasses import dataclass
from functools import cache

import pygame
from pygame import Rect

WITH_MONITORS = (1, 5)  # the version of RandR that tells monitors (X Resize, Rotate and Reflect, 1.5)


class _Info(ctypes.Structure):
    _fields_ = [
        ("name", ctypes.c_ulong), ("primary", ctypes.c_int), ("automatic", ctypes.c_int),
        ("outputs", ctypes.c_int), ("x", ctypes.c_int), ("y", ctypes.c_int), ("width", ctypes.c_int),
        ("height", ctypes.c_int), ("width_mm", ctypes.c_int), ("height_mm", ctypes.c_int),
        ("ids", ctypes.c_void_p),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Server:
    """A connection of our own, on which nothing is ever asked but this."""

    x: ctypes.CDLL
    randr: ctypes.CDLL
    link: int


def switched_on() -> list[tuple[str, Rect]]:
    """Return connector and place of each display that is on; none where that cannot be known."""
    try:
        server = _server() if pygame.display.get_driver() == "x11" else None
    except pygame.error:
        return []
    if server is None:
        return []
    count = ctypes.c_int(0)
    told = server.randr.XRRGetMonitors(server.link, server.x.XDefaultRootWindow(server.link), 1, count)
    if not told:
        return []
    found = []
    for one in told[: max(0, count.value)]:
        name = server.x.XGetAtomName(server.link, one.name)
        text = ctypes.string_at(name).decode("utf-8", "replace") if name else "display"
        if name:
            server.x.XFree(name)
        found.append((text, Rect(one.x, one.y, one.width, one.height)))
    server.randr.XRRFreeMonitors(told)
    return found


@cache
def _server() -> _Server | None:
    try:
        x, randr = ctypes.CDLL("libX11.so.6"), ctypes.CDLL("libXrandr.so.2")
        ask = randr.XRRGetMonitors
    except (OSError, AttributeError):
        return None
    x.XOpenDisplay.restype = ctypes.c_void_p
    link = x.XOpenDisplay(None)
    if not link:
        return None
    x.XDefaultRootWindow.restype, x.XDefaultRootWindow.argtypes = ctypes.c_ulong, [ctypes.c_void_p]
    x.XGetAtomName.restype, x.XGetAtomName.argtypes = ctypes.c_void_p, [ctypes.c_void_p, ctypes.c_ulong]
    x.XFree.argtypes = [ctypes.c_void_p]
    whole = ctypes.POINTER(ctypes.c_int)
    randr.XRRQueryExtension.argtypes = [ctypes.c_void_p, whole, whole]
    randr.XRRQueryVersion.argtypes = [ctypes.c_void_p, whole, whole]
    ask.restype = ctypes.POINTER(_Info)
    ask.argtypes = [ctypes.c_void_p, ctypes.c_ulong, ctypes.c_int, whole]
    randr.XRRFreeMonitors.argtypes = [ctypes.POINTER(_Info)]
    first, second = ctypes.c_int(0), ctypes.c_int(0)
    there = randr.XRRQueryExtension(link, first, second) and randr.XRRQueryVersion(link, first, second)
    if not there or (first.value, second.value) < WITH_MONITORS:
        return None
    return _Server(x, randr, link)
