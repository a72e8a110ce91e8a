"""Sentences of the archive that people meet in everyday work, by entry; its faults are told in English."""

from trainer.instrument.sentence import teller

WORDS: dict[str, str] = {
    "name.half": "the name holds half of a character pair, which cannot be stored; type it again",
    "name.control": "the name {text!r} holds the control character {odd}; leave it out",
    "name.empty": "the name is empty; give at least one character that can be seen",
    "name.long": "the name has {n} characters; the archive keeps at most {most}: shorten it",
    "name.archived": "{person!r} is in the archive, put away; bring them back, or add something to the name",
    "name.taken": "there is already a person called {person!r}; add something that tells the two apart",
    "attested.nobody": "no supervisor attested who sat there",
    "attested.nobody.why": "no supervisor attested who sat there; {reason}",
}
tell = teller(WORDS)
