"""Sentences of coaching, of the training path and of refreshers, by entry."""

WORDS: dict[str, str] = {
    # coaching of readings
    "coach.few": "Nothing stands out in {n} readings; with 50 or more the figures become firm.",
    "coach.few-answers": "Nothing stands out in so few answers; take more before you go on.",
    "coach.go-on": "Nothing stands out; go on to the next drill.",
    "coach.slip.one": "Of {of}, one reading was a slip: {remedy}.",
    "coach.slip": "Of {of}, {n} readings were slips: {remedy}.",
    "coach.slip.named.one": "Of {of}, one reading was a slip ({kind}): {remedy}.",
    "coach.slip.named": "Of {of}, {n} readings were slips ({kind}): {remedy}.",
    "coach.remedy.half-millimetre": ("see whether the thimble has passed zero before counting the half line"),
    "coach.remedy.turn": "see whether the thimble has passed zero before counting the sleeve line",
    "coach.remedy.graduation": "say the number of the line just passed before you estimate",
    "coach.remedy.wrong-side": "count the tenths from the lower line, whichever is nearer",
    "coach.remedy.swapped-digits": "read the whole number back from the screen before you enter it",
    "coach.remedy.other": "read the sleeve, then the line, then the tenth, always in that order",
    "coach.bias.high.sitting": (
        "You read {tenths} tenths high in this sitting: where you waver, take the lower."
    ),
    "coach.bias.low.sitting": (
        "You read {tenths} tenths low in this sitting: where you waver, take the higher."
    ),
    "coach.bias.high.whole": ("You read {tenths} tenths high on the whole: where you waver, take the lower."),
    "coach.bias.low.whole": ("You read {tenths} tenths low on the whole: where you waver, take the higher."),
    "coach.profile.high": "You read {tenths} tenths high between {first} and {last} tenths.",
    "coach.profile.low": "You read {tenths} tenths low between {first} and {last} tenths.",
    "coach.profile.high.apart": (
        "You read {tenths} tenths high between {first} and {last} tenths, the overall bias apart."
    ),
    "coach.profile.low.apart": (
        "You read {tenths} tenths low between {first} and {last} tenths, the overall bias apart."
    ),
    "coach.digits.share": (
        "{share} of your spread is favouring {digits}: decide between the two tenths beside it each time."
    ),
    "coach.digits": "You are favouring {digits}: decide between the two tenths beside it each time.",
    "coach.share.quarter": "A quarter",
    "coach.share.third": "A third",
    "coach.share.half": "Half",
    "coach.share.two-thirds": "Two thirds",
    "coach.spread": (
        "Your readings scatter by {tenths} tenths: settle on a tenth, look away, and look again."
    ),
    "coach.drift.up": (
        "Within a sitting your readings move up by {tenths} tenths in "
        "a hundred: take shorter sittings and rest your eyes between them."
    ),
    "coach.drift.down": (
        "Within a sitting your readings move down by {tenths} tenths in "
        "a hundred: take shorter sittings and rest your eyes between them."
    ),
    "coach.missed.one": "One item has no answer: answer each, even when unsure, since only answers teach.",
    "coach.missed": "{n} items have no answer: answer each, even when unsure, since only answers teach.",
    # coaching of judging
    "coach.judge.none": "No threshold yet: {why}.",
    "coach.judge.few": "too few judgements",
    "coach.judge.beyond": (
        "You begin to say out {tenths} tenths beyond the tolerance, so you accept what should be rejected."
    ),
    "coach.judge.within": (
        "You begin to say out {tenths} tenths within the tolerance, so you reject what should be accepted."
    ),
    "coach.judge.wavers": (
        "Your judgement wavers over {tenths} tenths: compare the overlap with half a line."
    ),
    "coach.judge.agrees": "Your threshold agrees with the tolerance.",
    # coaching of settings, sizes, vernier lines, self-checks, calibration runs
    "coach.set.far.one": (
        "1 of {of} settings stands more than half a division off: read the whole number again before you "
        "confirm."
    ),
    "coach.set.far": (
        "{n} of {of} settings stand more than half a division off: read the whole number again before you "
        "confirm."
    ),
    "coach.set.high": (
        "You set {tenths} tenths high on the whole: bring the middle of the line, not its edge, to the mark."
    ),
    "coach.set.low": (
        "You set {tenths} tenths low on the whole: bring the middle of the line, not its edge, to the mark."
    ),
    "coach.set.scatter": (
        "Your settings scatter by {tenths} tenths: make the last turn a small one, and look again before you "
        "confirm."
    ),
    "coach.way.higher": (
        "With the reading rising you stop {tenths} tenths higher than with it falling: come to every setting "
        "from the same side."
    ),
    "coach.way.lower": (
        "With the reading rising you stop {tenths} tenths lower than with it falling: come to every setting "
        "from the same side."
    ),
    "coach.size.side.one": (
        "1 of {of} offsets was given on the wrong side: plus means that the line has passed the index line."
    ),
    "coach.size.side": (
        "{n} of {of} offsets were given on the wrong side: plus means that the line has passed the index "
        "line."
    ),
    "coach.size.larger": (
        "You take offsets for {tenths} tenths larger than they are: where the lines' edges just meet it is "
        "{edge}, at half overlap half of that."
    ),
    "coach.size.smaller": (
        "You take offsets for {tenths} tenths smaller than they are: where the lines' edges just meet it is "
        "{edge}, at half overlap half of that."
    ),
    "coach.line.beside": (
        "{n} of {of} lines lay next to the one that coincides: look for the two lines equally far off on "
        "either side; the one in the middle coincides."
    ),
    "coach.line.far": (
        "{n} of {of} lines lay two or more from the one that coincides: go along the vernier from 0 until "
        "the lines change sides."
    ),
    "coach.self.above": (
        "Your estimates lie {tenths} tenths above the vernier: where you waver, take the lower."
    ),
    "coach.self.below": (
        "Your estimates lie {tenths} tenths below the vernier: where you waver, take the higher."
    ),
    "coach.self.far": (
        "{n} of {of} estimates were more than a tenth from the vernier: halve the division in mind before "
        "you name a tenth."
    ),
    "coach.run.rule": (
        "{n} of {of} verdicts did not follow from the errors that you recorded: accept only where every one "
        "lies within the limit."
    ),
    "coach.run.reading": (
        "Reading errors turned {n} of {of} verdicts: where an error comes near the limit, seat the block "
        "again and average."
    ),
    # what speaks against a check yet
    "ready.few.one": "there is 1 reading; the figures are firm from 50 on",
    "ready.few": "there are {n} readings; the figures are firm from 50 on",
    "ready.bias": "the bias is {bias} tenths; a sign-off usually asks for less than {limit}",
    "ready.spread": "the spread is {spread} tenths; a sign-off usually asks for less than {limit}",
    "ready.misreads.one": "{n} of {of} readings was a slip; practise until none is",
    "ready.misreads": "{n} of {of} readings were slips; practise until none is",
    # refreshers
    "refresh.reached": ("the last sitting's error, {rms} tenths, has reached the limit of {limit}"),
    "refresh.plain": ("{days} days after the last sitting; no forgetting of their own is shown yet"),
    "refresh.own": "their error grows to {limit} tenths about {days} days after a sitting",
    "refresh.eyes": (
        "You have read scales for {minutes} minutes: look into the distance for a while; nothing is lost."
    ),
}
