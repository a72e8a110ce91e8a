"""Sentences about what was typed, and about how an instrument is not the one asked for."""

from trainer.instrument.sentence import teller

WORDS: dict[str, str] = {
    "typed.no-digits": "{text!r} has no digits; type a number such as 7.384",
    "typed.too-large": "{text} is larger than any reading; check the decimal point",
    "typed.other-unit": "the answer is in {typed}, but this instrument reads in {own}; type {own}",
    "typed.unit.mm": "millimetres",
    "typed.unit.in": "inches",
    "typed.not-asked": "{text} is not among the answers asked for: whole tenths from 0 to 10",
    "typed.not-asked.halves": (
        "{text} is not among the answers asked for: tenths from 0 to 10, halves allowed"
    ),
    "typed.too-long": "the answer has {n} characters; a reading has at most {most}",
    "typed.unknown-unit": ("{text!r} is not a unit known here; type a number, with mm or in if you like"),
    "typed.nothing": "nothing was typed; type a number such as 7.384",
    "typed.two-signs": "{text!r} has more than one decimal sign; type one point or one comma",
    "typed.space": "{text!r} has a space between digits; type the number in one piece",
    "typed.sign": "{text!r} has a sign in the wrong place; type one sign at most, before the number",
    "typed.odd": "{text!r} is not a number because of {odd!r}; type digits with one decimal point or comma",
}
tell = teller(WORDS)
