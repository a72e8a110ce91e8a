"""Passphrases: rules that help, suggestions, and the growing delay after wrong ones.

The rules follow NIST SP 800-63B (from memory): length counts, kinds of characters are not prescribed, what
everybody tries first is refused.
"""

import itertools
import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

from trainer.instrument.refusal import Refusal
from trainer.signoff.words import tell

FEWEST_CHARACTERS, MOST_CHARACTERS = 14, 200
FEWEST_DIFFERENT, FEWEST_LEFT = 6, 8
SHORTEST_ROW = 4  # characters that follow each other, such as 1234, or are all the same
TRIED_FIRST = (
    "password", "passphrase", "micrometer", "tenthwise", "qwertyuiop", "qwertzuiop", "letmein", "changeme",
    "supervisor", "1234567890", "0987654321", "abcdefghij", "iloveyou", "administrator", "welcome",
)  # fmt: skip
CONSONANTS, VOWELS = "bdfgklmnprstvz", "aeiou"
SYLLABLES_A_WORD, WORDS = 2, 6  # 70 syllables: 12 of them are 73 bits
FREE_TRIES = 3
FIRST_DELAY_S, LONGEST_DELAY_S = 2.0, 900.0


class WeakPassphrase(Refusal):
    """The passphrase is too easy to guess; the sentence says how to better it."""


class WrongPassphrase(Refusal):
    """Account and passphrase do not go together; which of the two is wrong is not said."""


class LockedOut(Refusal):
    """Too many wrong passphrases for this account; the sentence says how long to wait."""


def normal(passphrase: str) -> bytes:
    """Return the bytes of a passphrase, the same however the keyboard composed its accents (NFKC)."""
    return unicodedata.normalize("NFKC", passphrase).encode("utf-8", "surrogatepass")


def check_strength(passphrase: str, account: str) -> None:
    """Raise `WeakPassphrase` unless a passphrase is good enough."""
    length = len(unicodedata.normalize("NFKC", passphrase))
    if length < FEWEST_CHARACTERS:
        raise WeakPassphrase(tell("passphrase.short", n=length, fewest=FEWEST_CHARACTERS))
    if length > MOST_CHARACTERS:
        raise WeakPassphrase(tell("passphrase.long", n=length, most=MOST_CHARACTERS))
    plain = "".join(character for character in passphrase.casefold() if character.isalnum())
    if len(set(plain)) < FEWEST_DIFFERENT:
        raise WeakPassphrase(tell("passphrase.repeats"))
    if len(_left(passphrase, account)) < FEWEST_LEFT:
        raise WeakPassphrase(tell("passphrase.little"))
    steps = [ord(b) - ord(a) for a, b in itertools.pairwise(plain)]
    if steps and sum(step in (0, 1, -1) for step in steps) > 0.7 * len(steps):
        raise WeakPassphrase(tell("passphrase.counts"))


def _left(passphrase: str, account: str) -> str:
    """Return what a guesser has to guess: each word once, without what is tried first and without rows."""
    words = re.findall(r"[^\W_]+", passphrase.casefold())
    rest = "".join(dict.fromkeys(words))
    for known in (*TRIED_FIRST, *(part for part in account.casefold().split() if len(part) > 2)):
        rest = rest.replace(known, "")
    kept, row = "", rest[:1]
    for before, character in itertools.pairwise(rest):
        if abs(ord(character) - ord(before)) <= 1:
            row += character
            continue
        kept, row = kept + (row if len(row) < SHORTEST_ROW else ""), character
    return kept + (row if len(row) < SHORTEST_ROW else "")


def suggestion(below: Callable[[int], int]) -> str:
    """Return a passphrase of invented words, 73 bits; `below(n)` returns a random whole number under n.

    Hand in `secrets.randbelow`.
    """
    letters = (CONSONANTS, VOWELS) * SYLLABLES_A_WORD
    words = ("".join(choice[below(len(choice))] for choice in letters) for _ in range(WORDS))
    return " ".join(words)


@dataclass(frozen=True, slots=True)
class Tries:
    """Wrong passphrases of one account since the last right one; times in seconds since 1970, UTC."""

    wrong: int = 0
    last_s: float = 0.0

    @property
    def delay_s(self) -> float:
        """Return how long after the last wrong one the next may come: 2 s after the third, then doubling."""
        if self.wrong < FREE_TRIES:
            return 0.0
        doublings = min(self.wrong - FREE_TRIES, 20)
        return min(FIRST_DELAY_S * 2.0**doublings, LONGEST_DELAY_S)

    def wait_s(self, now_s: float) -> float:
        """Return how long to wait now. A clock that was set back does not shorten the wait."""
        if now_s < self.last_s:
            return self.delay_s
        return max(0.0, self.last_s + self.delay_s - now_s)

    def refuse_if_locked(self, now_s: float) -> None:
        """Raise `LockedOut` while the delay runs."""
        wait = math.ceil(self.wait_s(now_s))
        if wait > 0:
            raise LockedOut(tell("passphrase.wait.one" if wait == 1 else "passphrase.wait", n=wait))

    def after_wrong(self, now_s: float) -> "Tries":
        """Return the tries after another wrong one."""
        return Tries(self.wrong + 1, max(now_s, self.last_s))
