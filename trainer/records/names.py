"""People's names: any script, any punctuation, one form for one name."""

import unicodedata

from trainer.records.refusals import UnusableName
from trainer.records.words import tell

LONGEST_NAME = 200  # characters, after normalisation


def clean_name(name: str) -> str:
    """Return the name as the archive keeps it: Unicode NFC, white space folded to single spaces.

    Raises `UnusableName` for an empty name, one over 200 characters, or one that holds
    characters that cannot be printed or stored.

    >>> clean_name("  Ana\\nde  la Cruz ")
    'Ana de la Cruz'
    """
    if any(0xD800 <= ord(character) <= 0xDFFF for character in name):
        raise UnusableName(tell("name.half"))
    folded = " ".join(unicodedata.normalize("NFC", name).split())
    for character in folded:
        if unicodedata.category(character) == "Cc":
            raise UnusableName(tell("name.control", text=folded, odd=f"U+{ord(character):04X}"))
    if not any(unicodedata.category(character)[0] in "LNPS" for character in folded):
        raise UnusableName(tell("name.empty"))
    if len(folded) > LONGEST_NAME:
        raise UnusableName(tell("name.long", n=len(folded), most=LONGEST_NAME))
    return folded


def name_key(name: str) -> str:
    """Return what two names are compared by: NFC of the case-folded compatibility form (Unicode 3.13, D146).

    >>> name_key("STRASSE") == name_key("Straße")
    True
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    return unicodedata.normalize("NFKC", folded)
