"""What a sitting asks and what the person gave: items and answers."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Outcome = Literal["answered", "skipped", "timed-out"]


@dataclass(frozen=True, slots=True)
class Item:
    """One reading to make.

    `position_tenths` is the truth: where the scale stands. `asks` says what is wanted, in the words of
    the plan's drill. `extra` holds what only one kind of drill needs, as plain JSON values.
    """

    number: int
    position_tenths: float
    asks: str
    extra: Mapping[str, Any] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return the item as plain values, fit for JSON and the archive."""
        return {
            "number": self.number,
            "position_tenths": self.position_tenths,
            "asks": self.asks,
            "extra": dict(self.extra),
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Item":
        """Return the item that `to_dict` described."""
        return cls(
            values["number"], values["position_tenths"], values["asks"], dict(values.get("extra") or {})
        )


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of one item.

    `answer_tenths` is None unless the outcome is "answered". `seconds` counts from the item being shown,
    pauses left out; `at` is UTC in ISO 8601.
    """

    number: int
    typed: str
    answer_tenths: float | None
    outcome: Outcome
    seconds: float
    at: str
    extra: Mapping[str, Any] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return the answer as plain values, fit for JSON and the archive."""
        return {
            "number": self.number,
            "typed": self.typed,
            "answer_tenths": self.answer_tenths,
            "outcome": self.outcome,
            "seconds": self.seconds,
            "at": self.at,
            "extra": dict(self.extra),
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Answer":
        """Return the answer that `to_dict` described."""
        return cls(
            values["number"],
            values["typed"],
            values["answer_tenths"],
            values["outcome"],
            values["seconds"],
            values["at"],
            dict(values.get("extra") or {}),
        )
