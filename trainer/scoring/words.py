"""Sentences of scoring that people read beside a result, by entry."""

from trainer.instrument.sentence import Sentence, teller

WORDS: dict[str, str] = {
    # kinds of misread, in a word as their code, and in words
    "slip.graduation": "graduation",
    "slip.turn": "turn",
    "slip.half-millimetre": "half-millimetre",
    "slip.wrong-side": "wrong-side",
    "slip.swapped-digits": "swapped-digits",
    "slip.vernier-line": "vernier-line",
    "slip.decimal-or-unit": "decimal-or-unit",
    "slip.unexplained": "unexplained",
    "slip.words.graduation": "graduation",
    "slip.words.turn": "turn",
    "slip.words.half-millimetre": "half millimetre",
    "slip.words.wrong-side": "wrong side",
    "slip.words.swapped-digits": "swapped digits",
    "slip.words.vernier-line": "vernier line",
    "slip.words.decimal-or-unit": "decimal or unit",
    "slip.words.unexplained": "unexplained",
}
tell = teller(WORDS)


def misread_kind(kind: str) -> Sentence:
    """Return a kind of misread as its code."""
    return tell(f"slip.{kind}")


def misread_words(kind: str) -> Sentence:
    """Return a kind of misread in words."""
    return tell(f"slip.words.{kind}")
