"""What can happen in a sitting; every event carries its time.

`at_s` is seconds from any fixed moment, never backwards; `at` is UTC in ISO 8601 where an answer may come
of it.
"""

from dataclasses import dataclass

from trainer.practice.items import Item


@dataclass(frozen=True, slots=True)
class Begun:
    """The first item may be shown; also after a resumed session was opened."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Edited:
    """The text of the answer field is now this."""

    text: str


@dataclass(frozen=True, slots=True)
class Entered:
    """The person confirms the answer."""

    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class Skipped:
    """The person passes over the item; it is recorded so and not replaced."""

    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class Ticked:
    """Time has gone on; only time limits care."""

    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class Turned:
    """The thimble was turned and now stands here, in tenths; only set-to drills care."""

    position_tenths: float
    at_s: float


@dataclass(frozen=True, slots=True)
class Dealt:
    """One more item was dealt, and is kept; only sessions dealt as one goes care."""

    item: Item
    at_s: float


@dataclass(frozen=True, slots=True)
class Advanced:
    """The person has seen the feedback."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Paused:
    """The item is hidden and its clock stops."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Resumed:
    """The item is shown again and its clock goes on."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Left:
    """The person leaves; what was answered is kept."""

    at_s: float


Event = Begun | Edited | Entered | Skipped | Ticked | Turned | Dealt | Advanced | Paused | Resumed | Left
