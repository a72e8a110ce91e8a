"""The tables of the design notes, against the source: rooms, floors, libraries."""

import ast
import re
import sys
import tomllib

from tests import test_floors
from tests.docs.snippets import ROOT, prose

PAGE = prose(ROOT / "docs" / "design.md")


def libraries(room):
    """Return the libraries that the modules of a room import, wherever in them."""
    found = set()
    for module in (ROOT / "trainer" / room).rglob("*.py"):
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {one.name.partition(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
                found.add(node.module.partition(".")[0])
    return found - set(sys.stdlib_module_names) - {"trainer"}


def test_each_room_has_its_floor_and_its_libraries():
    rows = re.findall(r"^\| (\d) \| `(\w+)/` \| [^|]+ \| ([^|]+) \|$", PAGE, flags=re.MULTILINE)
    assert {room: int(floor) for floor, room, _ in rows} == test_floors.FLOOR
    for _, room, told in rows:
        names = set() if told == "–" else {one.casefold() for one in told.split(", ")}
        assert names == libraries(room), room


def test_every_dependency_is_justified_with_what_it_costs():
    part = PAGE.partition("\n## What it depends on, and why\n")[2]
    rows = re.findall(
        r"^\| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([\d.]+) \| ([^|]+) \| ([^|]+) \|$", part, re.MULTILINE
    )
    told = {re.sub(r"\(.*?\)", "", name).strip().casefold() for row in rows for name in row[0].split(", ")}
    agreed = tomllib.loads((ROOT / "tests" / "dependencies" / "agreed.toml").read_text(encoding="utf-8"))
    assert told == {name.casefold() for name in (*agreed["runtime"], *agreed["optional"])}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = {re.match(r"[\w-]+", one)[0].casefold() for one in project["dependencies"]}
    assert asked == {name.casefold() for name in agreed["runtime"]}
