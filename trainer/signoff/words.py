"""Sentences of this room, for people, by entry."""

from trainer.instrument.sentence import teller

WORDS: dict[str, str] = {}
tell = teller(WORDS)
