"""Every text of the window, in one catalogue, so that it can be translated (`languages.py`).

The window's own texts stand in `words_*.py`; those of the rules in `words.py` of their rooms, which hand up
sentences with their entry and values (`trainer.instrument.sentence`). Titles and descriptions of what is
shipped stand in files of their own; `shipped_words` gives them entries.
"""

import re
from collections.abc import Mapping

from trainer.desktop import words_bench, words_drill, words_help, words_rooms, words_screens, words_signoff
from trainer.instrument import sentence, typed_words
from trainer.instrument.sentence import Moment, Sentence
from trainer.practice import words as practice_words
from trainer.records import words as records_words
from trainer.scoring import words as scoring_words
from trainer.signoff import words as signoff_words

ENGLISH: dict[str, str] = {
    **words_screens.WORDS,
    **words_drill.WORDS,
    **words_help.WORDS,
    **words_bench.WORDS,
    **words_rooms.WORDS,
    **words_signoff.WORDS,
    **sentence.WORDS,
    **typed_words.WORDS,
    **scoring_words.WORDS,
    **practice_words.WORDS,
    **signoff_words.WORDS,
    **records_words.WORDS,
}


AS_IS = {
    "text",
    "odd",
    "person",
    "account",
    "by",
    "reason",
    "session",
    "check",
    "other",
    "kind",
    "ticket",
    "plan",
    "criterion",
    "statement",
    "file",
    "path",
}
"""Places that hold what somebody typed, or a name: no mark in them is taken for a decimal mark."""

_present: dict[str, str] = dict(ENGLISH)
_titles: dict[str, str] = {}  # titles and descriptions of what is shipped: the English one to the present one


def use(texts: Mapping[str, str], shipped: Mapping[str, str] | None = None) -> None:
    """Speak with these texts from now on, and in English where they have none; `use({})` is English.

    `shipped` are the entries of what is shipped (`shipped_words`), where a translation has any of them.
    """
    _present.clear()
    _present.update(ENGLISH)
    _present.update(texts)
    _titles.clear()
    for entry, english in (shipped or {}).items():
        if entry in texts:
            _titles[english] = _titles[english.replace(" %", "\N{NO-BREAK SPACE}%")] = texts[entry]


def say(entry: str, /, **values: object) -> str:
    """Return a text of the catalogue with its blanks filled; sentences of the rules are said in it too.

    >>> say("rail.home")
    'Home'
    """
    text = _present[entry]
    if not values:
        return text
    return text.format(**{name: spoken(v) if isinstance(v, str) else v for name, v in values.items()})


def spoken(text: str, mark: str = ".") -> str:
    """Return a text of the rules, or the title of something shipped, in the language of the window.

    Its numbers have that decimal mark; a moment is given in the time of the place. What is neither, such as a
    name or one's own plan, comes back in its own words.

    >>> spoken("0.5 tenths", ",")
    '0,5 tenths'
    """
    if isinstance(text, Moment):
        return _local(text)
    if isinstance(text, Sentence) and text.entry in _present:
        values = {name: _place(name, value, mark) for name, value in text.places.items()}
        return _marked(_present[text.entry], mark).format(**values)
    return _marked(_titles.get(text, str(text)), mark)


def _place(name: str, value: object, mark: str) -> object:
    if isinstance(value, Sentence | Moment) or (isinstance(value, str) and name not in AS_IS):
        return spoken(value, mark)
    return value if isinstance(value, str | int) else _marked(str(value), mark)


def _marked(text: str, mark: str) -> str:
    return text if mark == "." else re.sub(r"(?<=\d)\.(?=\d)", mark, text)


def _local(moment: Moment) -> str:
    """Return a moment in the time of the place, with how far that is from UTC."""
    here = moment.at.astimezone()
    away = f"{here:%z}"
    zone = "UTC" if away == "+0000" else f"UTC{away[:3]}:{away[3:]}".replace("-", "\N{MINUS SIGN}")
    return say("moment", at=f"{here:%Y-%m-%d %H:%M}", zone=zone)


def counted(entry: str, count: int) -> str:
    """Return the text for a number of things; `entry.one` is for one of them.

    >>> counted("count.items", 1), counted("count.items", 20)
    ('1 item', '20 items')
    """
    thousands = f"{count:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return say(f"{entry}.one" if count == 1 else entry, n=thousands)
