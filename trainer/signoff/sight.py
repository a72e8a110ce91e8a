"""Under what sight a check was taken, held against the conditions that a criterion names."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from trainer.signoff.words import tell

# the values of clear sight straight ahead; what is otherwise is said by the word `sight.` and the name
SIGHT = {
    "magnification": 1.0, "blur_mm": 0.0, "contrast": 1.0, "glare": 0.0, "wear": 0.0, "dirt": 0.0,
    "eye_offset_mm": 0.0,
}  # fmt: skip


def unlike_sight(viewing: Mapping[str, Any], conditions: Sequence[str]) -> list[str]:
    """Return what a session was seen with, in a word each, that no condition of a criterion lets in.

    >>> unlike_sight({"glare": 0.5, "magnification": 2.5}, ["with the loupe, without glare"])
    ['glare']
    """
    found = [tell(f"sight.{name}") for name, clear in SIGHT.items() if viewing.get(name, clear) != clear]
    return [word for word in found if not any(_lets_in(text.casefold(), word) for text in conditions)]


def _lets_in(condition: str, word: str) -> bool:
    """Return whether a condition names a sight, and not in order to keep it out ("no glare")."""
    kept_out = rf"\b(no|not|never|without|free of|free from)\b[^,;:.]*\b{re.escape(word)}"
    return word in re.sub(kept_out, "", condition)
