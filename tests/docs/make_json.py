"""Write docs/json.md from what the commands print: `python tests/docs/make_json.py`."""

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

import pytest

from tests.commands.laboratory import RUTH, Reader
from tests.docs import prepared
from tests.docs.snippets import ROOT

PAGE = ROOT / "docs" / "json.md"
HEAD = """# What `--json` prints

The fields of every command that prints JSON, made by running them (`python tests/docs/make_json.py`); a
test keeps it current. Names carry their unit: `_tenths` of a division, `_um`, `_s`. What cannot be had is
`null`, with its reason under the same name in `reasons` where there are such. Intervals are 95 %. `[]`
stands for each of a list, `…` for names that are data (a kind of misread, a chain of acts, a field of a
plan). Moments are ISO 8601 in UTC. What a figure means, by which formula, is told in
[Methods](methods/index.md).

Not below: `compare` ([its own list](methods/comparing.md#what-json-holds)), `export`
([columns](columns.md)), `demo` (prints what `score` prints), and `archive deliver` (`delivered`, `waiting`,
`trouble`). A drill prints a line for each item, the result as `score` does in the last, and before it what
the person is asked at the end of a check.
"""
ELSEWHERE = ("compare", "export", "demo", "archive deliver")
BY_NAME = {"by_kind", "heads", "reasons", "rows", "saved", "quotes", "viewing", "settings"}
Calls = dict[str, list[tuple[str, ...]]]


def calls(number: str, ticket: str, sheet: str) -> Calls:
    """Return how each command is called, in an order in which each finds what it wants."""
    sample, kim, ready = prepared.SAMPLE, prepared.KIM, prepared.READY
    acting = ("--as", RUTH)
    return {
        "draw": [("--reading", "7.384", "--out", "look.png")],
        "score": [("class.csv",)],
        "import": [("class.csv",)],
        "bench": [(kim, "--instrument", "metric", "--step", "0.0001", "--from", "bench.csv", "--even-so")],
        "sheet": [("--instrument", "metric", "--sheets", "1", "--out", "more")],
        "mark": [(sheet, "--person", kim, "--answers", "answers.txt")],
        "quote": [(kim,), ("--team", "--instrument", "metric", "--archive", sample)],
        "budget": [("shaft",)],
        "capability": [(kim, "--tolerance", "2um")],
        "verify": [("kim.json", "--archive", "archive.tenthwise")],
        "people list": [("--all",)],
        "people add": [("Eve Thorn", *acting)],
        "people rename": [("Eve Thorn", "Eve Marr", *acting)],
        "people archive-person": [("Eve Marr", *acting)],
        "people pseudonymise": [("Eve Marr", "--yes", *acting)],
        "people dossier": [(kim, "--out", "kim.zip", *acting)],
        "people import-list": [("names.txt", *acting)],
        "plans list": [()],
        "plans show": [("judge-metric",)],
        "plans check": [("my-plan.toml",)],
        "archive info": [()],
        "archive check": [()],
        "archive upgrade": [()],
        "archive backup": [("copy.sqlite", *acting)],
        "archive restore": [(sample, "--archive", "new.tenthwise")],
        "archive move": [(sample, "moved.sqlite")],
        "archive rescue": [("damaged.tenthwise", "saved.tenthwise")],
        "signoff criteria": [()],
        "signoff cost": [("first-level-metric", "--people", "200")],
        "signoff check": [(prepared.VALE, *acting)],
        "signoff status": [(ready,)],
        "signoff attempt": [(prepared.FAILED, "--reason", "practised", *acting)],
        "signoff sign": [(ready, "--out", "ana.json", *acting)],
        "signoff write": [(number, "--out", "again.json")],
        "signoff list": [()],
        "signoff standing": [(number, "suspend", "--reason", "new glasses", *acting)],
        "signoff keys list": [()],
        "drill": [
            ("check-metric", "--person", prepared.VALE, "--no-window", "taken", "--ticket", ticket),
            ("full-reading-metric", "--person", kim, "--no-window", "taken"),
        ],
    }


class Slip(Reader):
    """Somebody who types a word first, which is refused."""

    def _readings(self) -> list[str]:
        return ["seven", *super()._readings()]


def shape(value: Any, name: str = "") -> Any:
    """Return the names in a JSON value, objects in lists put together; None for what holds no object."""
    if isinstance(value, list):
        inner = merged([shape(one) for one in value])
        return None if inner is None else {"[]": inner}
    if not isinstance(value, dict):
        return None
    if name in BY_NAME:
        return {"…": merged([shape(one) for one in value.values()])}
    return {key: shape(one, key) for key, one in value.items()}


def merged(shapes: list[Any]) -> Any:
    """Return several shapes as one."""
    known = [one for one in shapes if one is not None]
    if not known:
        return None
    keys = dict.fromkeys(key for one in known for key in one)
    return {key: merged([one.get(key) for one in known]) for key in keys}


def rows(names: Any) -> list[str]:
    """Return a row for each kind of object: where it stands, in how many places, and its names."""
    found: dict[str, list[str]] = {}
    gather(names, "", found)
    return [f"| {', '.join(f'`{at}`' for at in places if at)} | {told} |" for told, places in found.items()]


def gather(names: Any, path: str, found: dict[str, list[str]]) -> None:
    """Add where objects stand to what is found, by their names."""
    if names is None:
        return
    if set(names) == {"[]"}:
        gather(names["[]"], path + "[]", found)
        return
    found.setdefault(", ".join(f"`{key}`" for key in names), []).append(path)
    for key, inner in names.items():
        gather(inner, f"{path}.{key}" if path else key, found)


def printed(text: str) -> Any:
    """Return the shape of what a command printed: one value, or one on each line."""
    try:
        return shape(json.loads(text))
    except json.JSONDecodeError:
        return merged([shape(json.loads(line)) for line in text.splitlines() if line.startswith("{")])


def page() -> str:
    """Return the whole page."""
    parts = [HEAD]
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as folder:
        lab = prepared.furnish(patch, Path(folder))
        number = json.loads(Path("kim.json").read_text(encoding="utf-8"))["body"]["id"]
        sheet = Path("sheet.txt").read_text(encoding="utf-8").split()[0]
        for name, ways in calls(number, lab.ticket(prepared.VALE), sheet).items():
            shapes = []
            for words in ways:
                if name == "drill":
                    patch.setattr(sys, "stdin", Slip(lab, 7))
                code, out, err = lab.run(*name.split(), *words, "--json")
                assert code == 0, f"{name}: {err}"
                shapes.append(printed(out))
            table = "\n".join(["| in | fields |", "|---|---|", *rows(merged(shapes))])
            parts.append(f"## {name}\n\n{table}\n")
    return "\n".join(parts)


if __name__ == "__main__":
    made = page()
    PAGE.write_text(made, encoding="utf-8")
