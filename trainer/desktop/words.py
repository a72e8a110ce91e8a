"""Every text of the window, in one catalogue, so that it can be translated later."""

from trainer.desktop import words_bench, words_drill, words_help, words_rooms, words_screens

ENGLISH: dict[str, str] = {
    **words_screens.WORDS,
    **words_drill.WORDS,
    **words_help.WORDS,
    **words_bench.WORDS,
    **words_rooms.WORDS,
}


def say(entry: str, /, **values: object) -> str:
    """Return a text of the catalogue with its blanks filled.

    >>> say("rail.home")
    'Home'
    """
    text = ENGLISH[entry]
    return text.format(**values) if values else text


def counted(entry: str, count: int) -> str:
    """Return the text for a number of things; `entry.one` is for one of them.

    >>> counted("count.items", 1), counted("count.items", 20)
    ('1 item', '20 items')
    """
    thousands = f"{count:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return say(f"{entry}.one" if count == 1 else entry, n=thousands)
