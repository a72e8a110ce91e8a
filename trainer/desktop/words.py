"""Every text of the window, in one catalogue, so that it can be translated (`languages.py`).

The window's own texts stand in `words_*.py`; those of the rules in `words.py` of their rooms, which hand up
sentences with their entry and values (`trainer.instrument.sentence`). Titles and descriptions of what is
shipped stand in files of their own; `shipped_words` gives them entries.
"""

from collections.abc import Mapping

from trainer.desktop import words_bench, words_drill, words_help, words_rooms, words_screens, words_signoff
from trainer.instrument import sentence, typed_words
from trainer.instrument.sentence import Sentence
from trainer.practice import words as practice_words
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
}


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
    _titles.update((english, texts[entry]) for entry, english in (shipped or {}).items() if entry in texts)


def say(entry: str, /, **values: object) -> str:
    """Return a text of the catalogue with its blanks filled; sentences of the rules are said in it too.

    >>> say("rail.home")
    'Home'
    """
    text = _present[entry]
    if not values:
        return text
    return text.format(**{name: spoken(v) if isinstance(v, str) else v for name, v in values.items()})


def spoken(text: str) -> str:
    """Return a text of the rules, or the title of something shipped, in the language of the window.

    What is neither, such as a name or one's own plan, comes back as it is.
    """
    if isinstance(text, Sentence):
        return say(text.entry, **text.places) if text.entry in _present else str(text)
    return _titles.get(text, text) if _titles else text


def counted(entry: str, count: int) -> str:
    """Return the text for a number of things; `entry.one` is for one of them.

    >>> counted("count.items", 1), counted("count.items", 20)
    ('1 item', '20 items')
    """
    thousands = f"{count:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return say(f"{entry}.one" if count == 1 else entry, n=thousands)
