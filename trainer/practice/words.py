"""Sentences of practice, by entry: what is asked, refused and told of an answer; what to work on is apart."""

from trainer.instrument.sentence import teller
from trainer.practice.words_coaching import WORDS as COACHING

WORDS: dict[str, str] = {
    # what is asked
    "ask.set-to": "Set the thimble to {target} {unit}.",
    "ask.set-line": "Set line {line} of the thimble exactly on the index line ({reading} {unit}).",
    "ask.judge": "Does line {line} lie within {limit} of the index line, either way? Type in or out.",
    "ask.size-it": "How far has line {line} passed the index line? Minus: it has not reached it.",
    "ask.block-reading": "Reading on the block of {block} {unit}?",
    "ask.block-reading.again": "Reading on the block of {block} {unit} (reading {n})?",
    "ask.block-error": "Error of the reading on the block of {block} {unit}?",
    "ask.block-error.again": "Error of the reading on the block of {block} {unit} (reading {n})?",
    "ask.verdict": "Accept or reject, every error to lie within ±{limit}?",
    # why an answer is not taken
    "not-taken.outside": (
        "{text} lies outside {low} to {high} {unit}; correct it, or enter it once more to record it as it is"
    ),
    "not-taken.not-turned": "the thimble has not been turned; set it first, or skip the item",
    "not-taken.large-error": (
        "{text} is more than {limit} tenths; type reading minus block, "
        "in µm on a metric and in ten-thousandths on an inch micrometer"
    ),
    "not-taken.verdict": "{text!r} is no verdict; type accept or reject",
    "not-taken.verdict.none": "nothing was typed; type accept or reject",
    "not-taken.line": (
        "{text} is not a vernier line; type the number of the line that coincides, 0 to {lines}"
    ),
    "not-taken.judgement": "{text!r} is not a judgement; type in or out (y or n will do)",
    "not-taken.judgement.none": "nothing was typed; type in or out (y or n will do)",
    "not-taken.offset": "{text!r}: type the offset in µm, with its sign",
    "not-taken.offset.inch": "{text!r}: type the offset in ten-thousandths or in inches",
    "not-taken.offset.large": (
        "{text} is more than half a division; type the offset from the nearest graduation (at most {most})"
    ),
    "not-taken.zero": (
        "{text} tenths is more than five divisions; type the offset in tenths of a division, "
        "with a minus sign where the zero line has not been reached"
    ),
    # the bench check
    "bench-check.far": ("{text} is far from zero; set the zero graduation on the index line and read again"),
    "bench-check.far.base": (
        "{text} is far from {begins}, where this range begins; set the zero graduation on the index line "
        "there, set the display to {begins}, and read again"
    ),
    "bench-check.zeros": (
        "{n} of at least {fewest} observations of the zero so far; take the others, setting it anew each time"
    ),
    "bench-check.display": ("that came from the display; type your own estimate first, then read it"),
    "bench-check.decimals": (
        "{text} has {n} decimals, as only the reference shows; an estimate to a tenth has {own}"
    ),
    "bench-check.outside": ("{text} lies outside {low} to {high} {unit}; {again}"),
    "bench-check.other-unit": ("{text} looks like the other unit; set the reference to {unit}, or {again}"),
    "bench-check.travel": "{text} lies outside the instrument's travel; {again}",
    "bench-check.step": "{text} is no multiple of the reference's step {step}; {again}",
    "bench-check.digits": "{text} has fewer digits than the display shows; {again}",
    "bench-check.again": "read it again, or enter the same value once more to keep it",
    "bench-check.kind": "reference {kind!r} is unknown; it is display or vernier",
    "bench-check.bad-step": "step is {step}; give the smallest step the reference shows, such as 0.001",
    "bench-check.bad-accuracy": "accuracy is {accuracy}; give the half-width of its limits, 0 or more",
    "bench-check.no-vernier": "{instrument} has no vernier; choose a vernier instrument or a display",
    "bench-check.bad-readings": "readings is {n}; a bench check has 1 to 1000 readings",
    # what is told of an answer
    "told.line": "line {lines}",
    "told.error.high": "{tenths} tenths ({length}) high",
    "told.error.low": "{tenths} tenths ({length}) low",
    "told.read": "You read {error}.",
    "told.judged": "You judged it {error}.",
    "told.set": "You set it {error}.",
    "told.zero.off": ("The scale stands at {scale} and shows {zero} tenths when closed: take {by} off."),
    "told.zero.add": "The scale stands at {scale} and shows {zero} tenths when closed: add {by}.",
    "told.misread": "That is a misread ({kind}), counted apart from your spread.",
    "told.half-line.before": (
        "The thimble stands at {line}, short of its zero, so the sleeve line at its edge does not count."
    ),
    "told.half-line.past": (
        "The thimble stands at {line}, past its zero, so the sleeve line at its edge counts."
    ),
    "told.vernier.tie": "A near-tie: lines {lines} coincide about equally well.",
    "told.vernier.offset": "line {line}: {offset}",
    "told.vernier.offsets": ("Offset of the nearest graduation, in tenths: {offsets}; {truth} fits best."),
    "told.judge.offset": "The offset is {offset}, the tolerance {limit} either way.",
    "told.overlap": "{share} of the lines' width overlaps.",
    "told.overlap.judge.none": "The lines' edges do not overlap at all.",
    "told.overlap.none": "The lines do not overlap.",
    "told.false-accept": "A false accept.",
    "told.false-reject": "A false reject.",
    "told.way.rising": "You came to it with the reading rising, {times}.",
    "told.way.falling": "You came to it with the reading falling, {times}.",
    "told.way.none": "You came to it with the reading none, {times}.",
    "told.turns.none": "without turning back",
    "told.turns.one": "turning back once",
    "told.turns": "turning back {n} times",
    "told.risk": (
        "Of {n} invented instruments of this kind {conforming} conform to "
        "±{limit}; with one reading a block you would accept {accept} of all wrongly and reject {reject} "
        "wrongly."
    ),
    "told.largest": "Its largest error at the blocks is {error}, the limit ±{limit}.",
    "told.repeated": (
        "Your reading errors here: mean {mean}, spread {spread} tenths. Repeated with "
        "them, the run would end in the wrong verdict {share} of the time."
    ),
    # what reading error did to a verdict
    "effect.none": "No verdict was given.",
    "effect.right.conforms": "The instrument conforms, and so says the verdict.",
    "effect.right.fails": "The instrument does not conform, and so says the verdict.",
    "effect.lucky.conforms": (
        "The instrument conforms, and so says the verdict, although the recorded errors called for the other "
        "verdict."
    ),
    "effect.lucky.fails": (
        "The instrument does not conform, and so says the verdict, although the recorded errors called for "
        "the other verdict."
    ),
    "effect.accept.chance": (
        "A false accept: the instrument does not conform; a block without a reading leaves a verdict to "
        "chance."
    ),
    "effect.reject.chance": (
        "A false reject: the instrument conforms; a block without a reading leaves a verdict to chance."
    ),
    "effect.accept.moved": (
        "A false accept: the instrument does not conform, but reading errors moved it across the limit."
    ),
    "effect.reject.moved": (
        "A false reject: the instrument conforms, but reading errors moved it across the limit."
    ),
    "effect.accept.misapplied": (
        "A false accept: the instrument does not conform and the recorded errors show it; the rule was "
        "misapplied."
    ),
    "effect.reject.misapplied": (
        "A false reject: the instrument conforms and the recorded errors show it; the rule was misapplied."
    ),
    # what a screen cannot show
    "screen.not-set-up": (
        "this display was not set up, so its true size is not known; set it up before the drill"
    ),
    "screen.division.one": (
        "a division is {px} pixels, less than one: nothing between two lines can be seen; "
        "look from nearer or enlarge the picture"
    ),
    "screen.division": (
        "a division is {px} pixels, so a tenth of it is less than one; "
        "results will say more about the screen than about the person"
    ),
    "screen.angle": (
        "from {distance} mm a division is seen under {seen} minutes of arc, less "
        "than the {least} that a good eye resolves; look from nearer"
    ),
    "screen.true-size": (
        "the window holds {held} pixels a millimetre and true size takes "
        "{wanted}, so the picture is {share} of true size; enlarge the window"
    ),
    "screen.tolerance": (
        "the tolerance of {tolerance} is {px} pixels on this screen, less than it resolves; "
        "enlarge the picture or choose a larger tolerance"
    ),
    **COACHING,
}
tell = teller(WORDS)
