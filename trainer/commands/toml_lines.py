"""Where in a TOML file each key stands, so that a refusal can name the line.

The standard reader gives values without places; this finds the places of a file that it has read.
"""

import re
from collections.abc import Mapping

Path = tuple[str, ...]

LONGEST = 2000  # characters of a line that are looked at: the patterns below take a square of it at worst
HEADER = re.compile(r"\s*\[(\[?)([^\[\]]+)\]\]?\s*(?:#.*)?$")
KEY = re.compile(
    r"\s*((?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'))*)\s*="
)
INSIDE = re.compile(r"(?<![A-Za-z0-9_-])([A-Za-z0-9_-]+)\s*=")
TEXT = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'")


def key_lines(text: str) -> dict[Path, int]:
    """Return the line, counted from 1, of every key and table; a list of tables counts from "0".

    >>> key_lines('model = "a"\\n[inputs.a]\\nu = 1\\n[inputs]\\nb = {value = 2}')[("inputs", "b", "value")]
    5
    """
    found: dict[Path, int] = {}
    table: Path = ()
    counts: dict[Path, int] = {}
    depth = 0
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST:  # only its key is found; what opens on it is taken to close on it
            line, bare = line[:LONGEST], ""
        else:
            bare = TEXT.sub(lambda match: '"' + "x" * (len(match[0]) - 2) + '"', line).split("#")[0]
        header = HEADER.match(line) if depth == 0 else None
        if header:
            table = _parts(header[2].strip())
            if header[1]:
                found.setdefault(table, number)
                counts[table] = counts.get(table, -1) + 1
                table = (*table, str(counts[table]))
            found.setdefault(table, number)
            continue
        key = KEY.match(line) if depth == 0 else None
        if key:
            whole = table
            for part in _parts(key[1]):
                whole = (*whole, part)
                found.setdefault(whole, number)
            for inner in INSIDE.finditer(bare, key.end()):
                found.setdefault((*whole, inner[1]), number)
        depth += sum(bare.count(sign) for sign in "[{") - sum(bare.count(sign) for sign in "]}")
        depth = max(depth, 0)
    return found


def _parts(dotted: str) -> Path:
    return tuple(part.strip().strip("\"'") for part in re.findall(r"\"[^\"]*\"|'[^']*'|[^.]+", dotted))


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """Return the line of a key, or of the nearest table around it that is written out."""
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None
