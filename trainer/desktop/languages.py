"""Languages of the window: a translation is a TOML file in the folder `languages` beside this module.

`title` is the language's own name; the table `texts` gives texts by their entry in the catalogue, or by that
of something shipped (`words_shipped.py`). What a file leaves out is said in English.
"""

import string
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from trainer.instrument.refusal import Refusal

FOLDER = Path(__file__).parent / "languages"
LARGEST_BYTES = 1_000_000


class UnusableLanguage(Refusal):
    """A file of a language is at fault; the sentence says where and how."""


@dataclass(frozen=True, slots=True)
class Language:
    """A language: its short name (the file's), its own title, and its texts by entry.

    `shipped` are the English texts of those entries that are of something shipped.
    """

    name: str
    title: str
    texts: Mapping[str, str]
    shipped: Mapping[str, str] = field(default_factory=dict)


def names(folder: Path = FOLDER) -> tuple[str, ...]:
    """Return the short names of the languages that there are besides English."""
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def load(path: Path, catalogue: Mapping[str, str]) -> Language:
    """Return the language in a file; raise `UnusableLanguage` where it does not fit the catalogue."""
    from trainer.instrument.given_file import some_bytes, toml  # only where there is a translation

    try:
        raw = some_bytes(path, LARGEST_BYTES)
        if len(raw) > LARGEST_BYTES:
            raise UnusableLanguage(f"{path}: a file of a language has at most {LARGEST_BYTES:,} bytes")
        read = toml(raw.decode("utf-8"))
    except (ValueError, OSError) as fault:
        if isinstance(fault, Refusal):
            raise
        raise UnusableLanguage(f"{path}: {fault}; mend the file") from None
    title, texts = read.get("title"), read.get("texts")
    if not isinstance(title, str) or not isinstance(texts, dict):
        raise UnusableLanguage(f"{path}: it needs a title and a table [texts]")
    shipped: Mapping[str, str] = {}
    if texts.keys() - catalogue.keys():
        from trainer.desktop.words_shipped import shipped_words  # reads every plan

        shipped = {entry: text for entry, text in shipped_words().items() if entry in texts}
    known = {**catalogue, **shipped}
    for entry, text in texts.items():
        if complaint := _complaint(entry, text, known):
            raise UnusableLanguage(f"{path}: {entry} {complaint}")
    return Language(path.stem, title, texts, shipped)


def _complaint(entry: str, text: object, catalogue: Mapping[str, str]) -> str:
    """Return what is wrong with one text, or nothing."""
    if entry not in catalogue:
        return "is no entry of the catalogue; compare it with those in trainer.desktop.words.ENGLISH"
    if not isinstance(text, str) or not text.strip():
        return "has no text; write one, or leave the entry out"
    try:
        given = _blanks(text)
        text.format(**dict.fromkeys(given, ""))
    except (ValueError, LookupError, AttributeError):
        return "has a blank that cannot be filled; write {{ and }} for braces that are meant as such"
    if (wanted := _blanks(catalogue[entry])) != given:
        shown = ", ".join(f"{{{blank}}}" for blank in sorted(wanted)) or "none"
        return f"has other blanks than the English text; keep these: {shown}"
    return ""


def _blanks(text: str) -> set[str]:
    return {field for _, field, _, _ in string.Formatter().parse(text) if field is not None}
