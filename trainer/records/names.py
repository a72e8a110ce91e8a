"""People's names: any script, any punctuation, one form for one name."""

import unicodedata

from trainer.records.refusals import UnusableName

LONGEST_NAME = 200  # characters, after normalisation


def clean_name(name: str) -> str:
    """Return the name as the archive keeps it: Unicode NFC, white space folded to single spaces.

    Raises `UnusableName` for an empty name, one over 200 characters, or one that holds
    characters that cannot be printed or stored.

    >>> clean_name("  Ana\\nde  la Cruz ")
    'Ana de la Cruz'
    """
    if any(0xD800 <= ord(character) <= 0xDFFF for character in name):
        raise UnusableName("the name holds half of a character pair, which cannot be stored; type it again")
    folded = " ".join(unicodedata.normalize("NFC", name).split())
    for character in folded:
        if unicodedata.category(character) == "Cc":
            raise UnusableName(
                f"the name {folded!r} holds the control character U+{ord(character):04X}; leave it out"
            )
    if not any(unicodedata.category(character)[0] in "LNPS" for character in folded):
        raise UnusableName("the name is empty; give at least one character that can be seen")
    if len(folded) > LONGEST_NAME:
        raise UnusableName(
            f"the name has {len(folded)} characters; the archive keeps at most {LONGEST_NAME}: shorten it"
        )
    return folded


def name_key(name: str) -> str:
    """Return what two names are compared by: NFC of the case-folded compatibility form (Unicode 3.13, D146).

    >>> name_key("STRASSE") == name_key("Straße")
    True
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    return unicodedata.normalize("NFKC", folded)
