"""Text of two directions on one line: a name in Hebrew beside Latin letters and digits, as it is read.

The part of the bidirectional algorithm that one line without embeddings needs (Unicode Standard Annex #9: P2,
W2, W4 to W7, N1, N2, I1, I2, L2). Inside a stretch the font's own shaping turns letters and brackets round.
"""

import unicodedata
from itertools import groupby

RIGHT = ("R", "AL")
DIGITS = ("EN", "AN")
BETWEEN_DIGITS = ("ES", "CS")  # a minus, a point or a comma inside a number


def right_to_left(text: str) -> bool:
    """Return whether the first letter with a direction runs from right to left.

    >>> right_to_left("שלום"), right_to_left("Ada")
    (True, False)
    """
    for character in text:
        direction = unicodedata.bidirectional(character)
        if direction in (*RIGHT, "L"):
            return direction in RIGHT
    return False


def stretches(text: str) -> list[tuple[str, bool]]:
    """Return the stretches of a line as they stand from left to right, each with whether it runs to the left.

    >>> stretches("Progress of Ada")
    [('Progress of Ada', False)]
    >>> [told for told, _ in stretches("שלום 12")]
    ['12', 'שלום ']
    """
    if text.isascii() or not any(unicodedata.bidirectional(c) in RIGHT for c in text):
        return [(text, False)]
    base = 1 if right_to_left(text) else 0
    levels = _levels(_kinds(text, base), base)
    found: list[tuple[int, str]] = []
    at = 0
    for level, same in groupby(levels):
        length = len(list(same))
        found.append((level, text[at : at + length]))
        at += length
    for turned in range(max(levels), 0, -1):  # rule L2: from the highest level down, turn what stands at it
        found = _turned(found, turned)
    return [(told, bool(level % 2)) for level, told in found]


def _kinds(text: str, base: int) -> list[str]:
    """Return of each character L, R or N (a number), "" for one without a direction of its own."""
    raw = [unicodedata.bidirectional(c) for c in text]
    for i in range(1, len(raw) - 1):
        if raw[i] in BETWEEN_DIGITS and raw[i - 1] == raw[i + 1] == "EN":
            raw[i] = "EN"
    for way in (range(1, len(raw)), range(len(raw) - 2, -1, -1)):  # a percent sign belongs to its number
        for i in way:
            if raw[i] == "ET" and raw[i - way.step] == "EN":
                raw[i] = "EN"
    kinds, strong = [], "R" if base else "L"
    for kind in raw:
        if kind == "L" or kind in RIGHT:
            strong = "L" if kind == "L" else "R"
            kinds.append(strong)
        elif kind in DIGITS:
            kinds.append("L" if strong == "L" and kind == "EN" else "N")
        elif kind == "NSM" and kinds:
            kinds.append(kinds[-1])
        else:
            kinds.append("")
    return kinds


def _levels(kinds: list[str], base: int) -> list[int]:
    """Return the levels: those without a direction go with their neighbours, or with the line."""
    own = "R" if base else "L"
    sides = {"L": "L", "R": "R", "N": "R"}  # rule N1: a number counts as text to the left
    at = 0
    while at < len(kinds):
        if kinds[at]:
            at += 1
            continue
        end = at
        while end < len(kinds) and not kinds[end]:
            end += 1
        before = sides[kinds[at - 1]] if at else own
        after = sides[kinds[end]] if end < len(kinds) else own
        kinds[at:end] = [before if before == after else own] * (end - at)
        at = end
    of = {"L": 2, "R": 1, "N": 2} if base else {"L": 0, "R": 1, "N": 2}
    return [of[kind] for kind in kinds]


def _turned(found: list[tuple[int, str]], level: int) -> list[tuple[int, str]]:
    out: list[tuple[int, str]] = []
    for high, group in groupby(found, key=lambda one: one[0] >= level):
        part = list(group)
        out += reversed(part) if high else part
    return out
