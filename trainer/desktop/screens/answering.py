"""What may be typed as an answer, and which answers are words."""

from trainer.practice.session import Session

MAGNIFIED = {"tenths", "full-reading", "half-line", "estimate", "block-reading"}
PLAIN_READINGS = {"tenths", "full-reading"}
TYPABLE = set("0123456789.,+-\N{MINUS SIGN} ") | set("minch\"'µu/")


def words_of(session: Session) -> tuple[str, ...]:
    """Return the words that can answer a question of words."""
    return ("accept", "reject") if session.kind.name == "verdict" else ("in", "out")


def typable(text: str) -> str:
    """Return what of a text can belong to an answer, so that a stray paste does no harm."""
    return "".join(c for c in text if c.casefold() in TYPABLE)[:40]
