"""Texts of the bench check."""

WORDS = {
    "bench.open": "Bench check with this instrument",
    "bench.title": "Bench check",
    "bench.under": "{person} · {instrument}",
    "bench.what": (
        "Estimates on a real instrument: set the thimble anywhere and lock it, enter your estimate, and only "
        "then read the reference."
    ),
    "bench.reference": "Reference",
    "bench.display": "Display",
    "bench.vernier": "Vernier",
    "bench.step": "Smallest step it shows",
    "bench.accuracy": "Half-width of its limits of error",
    "bench.readings": "Settings",
    "bench.begin": "Begin",
    "bench.zero": "Zero, observation {n}",
    "bench.zero.how": (
        "Set the zero graduation on the index line as carefully as you can; zero the display the first time. "
        "Enter what the display shows, turn away, and set the zero anew: five times or more."
    ),
    "bench.zero.done": "Zero is observed",
    "bench.estimate": "Setting {n} of {of}: your estimate",
    "bench.estimate.how": "Set the thimble anywhere, lock it, and do not look at the reference yet.",
    "bench.read": "Setting {n} of {of}: what the {reference} shows",
    "bench.read.how": "The estimate is locked. Read the {reference}, or press the display's button.",
    "bench.moved": "The thimble moved",
    "bench.enter": "Enter",
    "bench.end": "End here",
    "bench.quit.line": "What was compared is kept, and the check can be gone on with from Home.",
    "bench.quit.locked": "The estimate that is locked and not yet compared would be given up.",
    "bench.stay": "The bench check goes on; End here stops it and keeps what was read.",
    "bench.refused": "Not kept: {reason}",
    "bench.bias": "Bias",
    "bench.spread": "Spread, the reference's part taken out",
    "bench.interval": "95 % interval {low} to {high}",
    "bench.few": "cannot be had from so few readings",
    "bench.count": "{n}; {misreads} set apart as misreads",
    "bench.procedures": "Whether parts or instruments are accepted follows the laboratory's own procedures.",
}
