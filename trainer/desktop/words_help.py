"""The texts of display set-up, settings, help and the crash screen."""

WORDS: dict[str, str] = {
    # display
    "display.title": "Display set-up",
    "display.under": (
        "So that sizes on this screen are true, and results carry the visual angle of a division."
    ),
    "display.by": "Measure with",
    "display.by.card": "Card (ID-1)",
    "display.by.length": "Known length",
    "display.card.how": (
        "Lay a bank or identity card (85.60 mm × 53.98 mm) on the outline. Make both edges meet it."
    ),
    "display.length.how": "Lay a gauge block or rule on the bar. Make the bar as long as the block.",
    "display.length": "Length of the block",
    "display.length.bad": "Type a length from 20 to 300 mm.",
    "display.too-long": "That is longer than this window: make the window larger, or take a shorter block.",
    "display.keys": (
        "Arrow keys move by one pixel, with Shift by ten, with Ctrl by a quarter; or use the buttons."
    ),
    "display.less": "Narrower",
    "display.more": "Wider",
    "display.distance": "Distance from your eyes to the screen",
    "display.distance.hint": "Measure it with a tape, sitting as you will sit.",
    "display.distance.bad": "Type a distance from 150 to 2000 mm.",
    "display.gives": "What this gives",
    "display.px": "Pixels per millimetre",
    "display.division": "A division of {title}, true size",
    "display.tenth": "A tenth of it",
    "display.size": "{mm} mm, {px} px",
    "display.size.angle": "{mm} mm, {px} px, {angle}\N{NO-BREAK SPACE}arcmin",
    "display.honest.yes": "True size is honest here: a tenth of a division is at least half a pixel.",
    "display.honest.no": (
        "True size is too small for this screen: a tenth is {px} pixel. Magnify at least {times} times."
    ),
    "display.check.line": "This bar should measure {mm} mm.",
    "display.save": "Keep for this display",
    "display.saved": "Kept for this display.",
    "display.never": "This display has not been set up. Until then pictures have a usual, not a true, size.",
    "display.changed": "The display's resolution has changed. Please set it up again.",
    "display.kept": "Set up {when}: {px} pixels per millimetre.",
    "display.align": "Alignment test",
    "display.aligned": "In the alignment test {n} of {of} offsets of a pixel were told rightly.",
    "align.title": "Alignment test",
    "align.ask": "{n} of {of}: where does the lower line stand, against the upper one?",
    "align.left": "Left",
    "align.none": "In line",
    "align.right": "Right",
    "align.keys": "Or press 1, 2, 3. Sit as you will sit during a drill.",
    "align.result": "{n} of {of} told rightly",
    "align.good": "One pixel is told apart on this screen from where you sit.",
    "align.poor": (
        "One pixel is not told apart reliably. Sit nearer, switch the scaling of the display off, or rest "
        "your eyes; until then results say something about the screen too."
    ),
    "align.keep": "Keep with the display",
    "align.kept": "The alignment test is kept with the display.",
    # settings
    "settings.title": "Settings",
    "settings.under": "For this station. Everything takes effect at once and is remembered.",
    "settings.ground": "Ground",
    "settings.ground.light": "Light",
    "settings.ground.dark": "Dark",
    "settings.ground.contrast": "High contrast",
    "settings.scale": "Size of texts and controls",
    "settings.scale.auto": "Auto",
    "settings.language": "Language, from the next start on",
    "settings.language.english": "English",
    "settings.decimal": "Decimal mark in results",
    "settings.decimal.point": "Point, 0.5",
    "settings.decimal.comma": "Comma, 0,5",
    "settings.decimal.note": "When typing, both are always accepted.",
    "settings.keypad": "Show answer keys on the screen during a drill",
    "settings.sounds": "Sounds: a short tick when an answer is kept",
    "settings.full": "Full screen (F11)",
    "settings.look": "Look",
    "settings.numbers": "Numbers",
    "settings.hands": "Hands and ears",
    # help
    "help.title": "Help",
    "help.tab.keys": "Keys",
    "help.tab.words": "Words",
    "help.tab.method": "Method",
    "key.tab": "Tab, Shift+Tab",
    "key.tab.does": "next or previous control",
    "key.enter": "Enter, Space",
    "key.enter.does": "press the control; Enter confirms an answer",
    "key.esc": "Esc",
    "key.esc.does": "back; in a drill, leave",
    "key.arrows": "Arrow keys",
    "key.arrows.does": "move within a table, a choice, a figure or between buttons",
    "key.sort": "Left, Right in a table",
    "key.sort.does": "sort by another column",
    "key.skip": "F2, or / on the numeric pad",
    "key.skip.does": "skip the item; it is recorded as skipped",
    "key.pause": "F3, or * on the numeric pad",
    "key.pause.does": "pause and go on: the picture is hidden, the clock stops",
    "key.undo": "Ctrl+Z, Ctrl+Y",
    "key.undo.does": "take typing back, make it again",
    "key.pad": "+ or Enter on the numeric pad",
    "key.pad.does": "confirm and go to the next item: one hand is enough",
    "key.scale": "Ctrl +, Ctrl −, Ctrl 0",
    "key.scale.does": "larger, smaller, as the display suggests",
    "key.full": "F11",
    "key.full.does": "full screen",
    "key.rooms": "Ctrl+1 to Ctrl+9",
    "key.rooms.does": "go to a page of the rail",
    "key.help": "F1",
    "key.help.does": "these pages",
    "key.quit": "Ctrl+Q",
    "key.quit.does": "close the window; a sitting can be gone on with later",
    "word.division": "division",
    "word.division.means": "the space between two neighbouring thimble lines: 0.01 mm or 0.001 in",
    "word.tenth": "tenth",
    "word.tenth.means": "a tenth of a division: 1 µm, or 0.0001 in. Errors are given in tenths",
    "word.truth": "truth",
    "word.truth.means": "where the picture really stands, to far better than a tenth",
    "word.error": "error",
    "word.error.means": "answer minus truth; plus means read high",
    "word.bias": "bias",
    "word.bias.means": "the mean of your errors: what you read high or low on average",
    "word.spread": "spread",
    "word.spread.means": "the standard deviation of your errors: how much they scatter",
    "word.misread": "misread",
    "word.misread.means": (
        "a slip, such as a line or a turn too many; counted, and kept out of bias and spread"
    ),
    "word.drill": "drill",
    "word.drill.means": "practice: you see after each reading how it was",
    "word.check": "check",
    "word.check.means": "a sitting for the record: no feedback, whole readings only",
    "word.interval": "95 % interval",
    "word.interval.means": "where the true value lies, by a method that is right 95 times in 100",
    "method.title": "Method",
    "method.1": (
        "Each picture is drawn to a known position with an error of its own below a hundredth of a tenth "
        "at usual sizes. Every tenth of the division comes up equally often, at places that cannot be "
        "guessed."
    ),
    "method.2": (
        "The error of a reading is the answer minus the truth. Slips of a line, half a millimetre or a "
        "turn are told from estimates by a fixed rule; they are counted by kind and set apart."
    ),
    "method.3": (
        "Bias and spread are the mean and the standard deviation of the other errors. Rounding to a whole "
        "tenth alone gives a spread of 0.29 tenth: nobody who answers in whole tenths can do better."
    ),
    "method.4": (
        "Intervals hold the true value 95 times in 100. Where a figure cannot be had from so few readings, "
        "the program says so instead of showing one."
    ),
    "method.5": "Every answer is on disk before the next item is shown.",
    # crash
    "crash.title": "Something went wrong in the program",
    "crash.line": "A fault in the program, not in anything you did, has stopped this screen.",
    "crash.safe": (
        "Answers that were confirmed are safe: each is on disk before the next item is shown. A sitting "
        "that was going on can be gone on with from Home."
    ),
    "crash.details": "The details are in {path}",
    "crash.no_details": "The details could not be written to a file.",
    "crash.what": "What happened: {what}",
    "crash.home": "Go to Home",
    "crash.quit": "Close the window",
    # the window
    "window.title": "Tenthwise",
}
