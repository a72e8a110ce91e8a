"""Sentences of scoring that people read beside a result, by entry."""

from trainer.instrument.sentence import Sentence, teller

WORDS: dict[str, str] = {
    # why a figure cannot be had
    "why.none": "there is no answered reading",
    "why.misread.one": "the one reading is a misread",
    "why.misread": "all {n} readings are misreads",
    "why.alike": "every error is the same, so nothing tells how far it may be off",
    "why.one": "a spread needs at least two readings; there is one",
    "why.spread.one": "an interval for the spread needs at least {fewest} readings; there is {n}",
    "why.spread": "an interval for the spread needs at least {fewest} readings; there are {n}",
    "why.split": "too few readings share a tenth to tell the profile from noise",
    "why.digits.one": "a test of digit preference needs at least {fewest} readings; there is {n}",
    "why.digits": "a test of digit preference needs at least {fewest} readings; there are {n}",
    "why.not-whole": "answers are not in whole or half tenths",
    "why.drift.few": "drift needs at least three readings of one session",
    "why.drift.alike": "the errors within each session are all the same",
    "why.sessions.one": "one session tells only the bias in this session",
    "why.sessions.alike": "session means do not differ",
    "why.profile": "a tenth with fewer than two readings, or with equal errors, has no interval",
    "why.trials.one": "1 trial; a threshold needs at least {fewest}",
    "why.trials": "{n} trials; a threshold needs at least {fewest}",
    "why.beyond": 'every judgement was "beyond"; the threshold lies outside the offsets shown',
    "why.within": 'every judgement was "within"; the threshold lies outside the offsets shown',
    "why.same-offset": "every trial had the same offset; a curve needs different ones",
    "why.width": "{n} trials; a width needs at least {fewest}",
    # what figures may hide
    "hides.exact": "true positions stand on exact tenths, so rounding hides a part of the spread",
    "hides.clipped": "answers could not leave their pair of lines, so the spread is a little too small",
    "hides.digits": "answers prefer 0 and 5, which is a part of the spread",
    # the reference of a bench check
    "reference.step": (
        "the scatter is no larger than the reference's own step makes it; "
        "a reading cannot be known better than the step that the reference shows"
    ),
    "reference.poor": (
        "the reference is not good enough for this person: it beats the spread only {times} to 1, "
        "where {wanted} to 1 is wanted; use a reference with a finer step"
    ),
    "reference.fair": (
        "the reference beats the spread {times} to 1, less than {wanted} to 1; "
        "its part is taken out by calculation"
    ),
    "reference.few": "too few readings for an interval of the spread",
    "reference.accuracy": (
        "no accuracy of the reference was given; the bias holds against this reference only"
    ),
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
