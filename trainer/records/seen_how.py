"""How the pictures of a person's checks were seen: what must be read with a statement about them."""

import json
from collections.abc import Sequence

from trainer.records.values import StoredSession
from trainer.records.viewed import angle_arcmin


def remarks(taken: Sequence[StoredSession]) -> tuple[str, ...]:
    """Return in sentences which pictures were read, how large a division was seen, and what is not known."""
    if not taken:
        return ()
    all_of_them = "1 check" if len(taken) == 1 else f"{len(taken)} checks"
    names = sorted({one.header.instrument for one in taken})
    found = [f"Only pictures of these instruments of the catalogue were read: {', '.join(names)}."]
    known = [angle for one in taken if (angle := _angle(one)) is not None]
    if known:
        low, high = f"{min(known):.1f}", f"{max(known):.1f}"
        span = low if low == high else f"{low} to {high}"
        found.append(f"A division was seen {span} minutes of arc wide.")
    if unknown := len(taken) - len(known):
        found.append(f"How large a division was seen is not known of {unknown} of {all_of_them}.")
    if plain := sum(bool(one.header.viewing.get("plain")) for one in taken):
        found.append(f"{plain} of {all_of_them} had plain pictures, without texture and numerals.")
    return tuple(found)


def _angle(stored: StoredSession) -> float | None:
    return angle_arcmin(json.dumps(dict(stored.header.viewing)), stored.header.instrument)
