"""The page about the look of the window, against the values that the window draws with."""

import dataclasses
import re

from tests.docs.snippets import ROOT, prose
from trainer.desktop import look

PAGE = prose(ROOT / "docs" / "look.md")
PLAIN = " ".join(PAGE.split())
SECOND = {
    "rail": ["rail", "rail_light"],
    "brass": ["brass", "brass_wash"],
}  # two values of one role in a cell


def told(cell):
    return re.findall(r"#([0-9A-F]{6})", cell)


def test_the_tones_in_the_table_are_those_of_the_grounds():
    rows = re.findall(r"^\| ([\w, ]+) \| (`#.*?) \| (`#.*?) \|", PAGE, flags=re.MULTILINE)
    assert len(rows) == 7
    seen = set()
    for roles, light, dark in rows:
        names = SECOND.get(roles) or roles.split(", ")
        for ground, cell in ((look.LIGHT, light), (look.DARK, dark)):
            held = ["{:02X}{:02X}{:02X}".format(*getattr(ground, name)) for name in names]
            assert told(cell) == held, (ground.name, roles)
        seen |= set(names)
    assert seen <= {field.name for field in dataclasses.fields(look.Ground)}


def test_the_numbers_of_the_page_are_those_of_the_window():
    roles = [field.name for field in dataclasses.fields(look.Ground) if field.type == look.Colour]
    assert len(roles) == 14
    assert "with the same fourteen roles" in PLAIN
    heights = [height for height, _ in look.SIZES.values()]
    assert (len(heights), min(heights), max(heights), look.SIZES["body"][0]) == (8, 11.5, 30, 14.5)
    assert "Eight styles in sizes from 11.5 to 30 units; body is 14.5." in PLAIN
    assert f"Controls are {look.CONTROL} units high, table rows {look.ROW}." in PLAIN
    assert f"Corners have a radius of {look.RADIUS}" in PLAIN
    assert f"the rail shows pictures only below {look.NARROW_BELOW}" in PLAIN
    assert f"the scale goes from {look.STEPS[0]:g} to {look.STEPS[-1]:g}" in PLAIN
