"""Pieces that several screens are made of."""

from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Button, Frame, Gap, Icon, Label, Line, Row, Scaled, Stack
from trainer.desktop.words import say

NARROW_TABLE = 900  # units of the window's width under which a wide table shows its chief columns alone
ROOMS = ("home", "people", "plans", "progress", "team", "signoff", "display", "settings", "help")


def framed(name: str, body: Any, foot: Any = None) -> Frame:
    """Return a whole screen with the rail, its own graduation met by the index line."""
    buttons = tuple(
        Button(
            f"rail:{room}", say(f"rail.{room}"), "rail", room, chosen=room == name, tip=say(f"rail.{room}")
        )
        for room in ROOMS
    )
    return Frame((Label(say("window.title"), "heading", wrap=False), Gap(10), *buttons), body, foot)


def titled(title: str, under: str = "", *beside: Any) -> Stack:
    """Return the head of a screen: title, what it is for, and the graduated rule."""
    head = Row(
        (Label(title, "title", wrap=False), *beside), (1, *(0 for _ in beside)), gap=10, align="middle"
    )
    lines = (head, Label(under, "body", "soft")) if under else (head,)
    return Stack((*lines, Gap(2), Scaled(), Gap(4)), gap=4)


def typed_path(text: str) -> str:
    """Return a typed path without the quotation marks with which file managers copy one.

    >>> typed_path(' "C:\\\\bench files" ')
    'C:\\\\bench files'
    """
    return text.strip().strip('"')


def panel(*children: Any, gap: float = 8, grow: bool = False) -> Stack:
    """Return a sheet of paper with nodes on it."""
    return Stack(
        tuple(c for c in children if c is not None), gap=gap, pad=(20, 16), ground="sheet", grow=grow
    )


def caution(text: str) -> Stack:
    """Return a caution: brass ground, a sign, the sentence."""
    inner = Row((Icon("caution", 18, "brass"), Label(text, "body", "brass")), (0, 1), gap=10)
    return Stack((inner,), pad=(16, 10), ground="brass")


def fact(label: str, value: str, style: str = "figure") -> Stack:
    """Return a small caption over a value."""
    return Stack((Label(label, "small", "soft"), Label(value, style)), gap=1)


def buttons(*them: Button | None) -> Row:
    """Return buttons beside each other, the first the most wanted, packed to the left."""
    found = tuple(b for b in them if b is not None)
    return Row((*found, Gap(0)), (*(0.0 for _ in found), 1.0), gap=10, align="middle")


def no_person(desk: Desk) -> Stack:
    """Return the panel that asks for a person where a screen needs one."""
    return panel(
        Label(say("who.none"), "body"),
        Gap(4),
        buttons(Button("choose", say("who.choose"), "main", "people")),
    )


def narrow(desk: Desk) -> bool:
    """Return whether a wide table would be all dots: it then shows its chief columns alone."""
    return desk.size[0] / desk.drawn_scale < NARROW_TABLE


def chief(lines: tuple[Line, ...], columns: tuple[int, ...]) -> tuple[Line, ...]:
    """Return the rows of a table with some of its columns alone."""
    return tuple(
        Line(
            x.key,
            tuple(x.cells[c] for c in columns),
            tuple(x.sort[c] for c in columns) if x.sort else (),
        )
        for x in lines
    )
