"""Every text of the window, in one catalogue, so that it can be translated (`languages.py`)."""

from collections.abc import Mapping

from trainer.desktop import words_bench, words_drill, words_help, words_rooms, words_screens, words_signoff

ENGLISH: dict[str, str] = {
    **words_screens.WORDS,
    **words_drill.WORDS,
    **words_help.WORDS,
    **words_bench.WORDS,
    **words_rooms.WORDS,
    **words_signoff.WORDS,
}


_present: dict[str, str] = dict(ENGLISH)


def use(texts: Mapping[str, str]) -> None:
    """Speak with these texts from now on, and in English where they have none; `use({})` is English."""
    _present.clear()
    _present.update(ENGLISH)
    _present.update(texts)


def say(entry: str, /, **values: object) -> str:
    """Return a text of the catalogue with its blanks filled.

    >>> say("rail.home")
    'Home'
    """
    text = _present[entry]
    return text.format(**values) if values else text


def counted(entry: str, count: int) -> str:
    """Return the text for a number of things; `entry.one` is for one of them.

    >>> counted("count.items", 1), counted("count.items", 20)
    ('1 item', '20 items')
    """
    thousands = f"{count:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return say(f"{entry}.one" if count == 1 else entry, n=thousands)
