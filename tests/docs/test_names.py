"""Names and lines of code in the texts of the docs: each is one that the program, a test or a server has."""

import json
import re
import tomllib

import numpy as np
import pytest

from tests.docs import list_snippets
from tests.docs.snippets import GENERATED, PAGES, ROOT, named, spans
from trainer.commands.budget_file import READING_FIELDS
from trainer.practice.kinds import SETTINGS
from trainer.practice.plan import TYPES
from trainer.records.canonical import canonical_text
from trainer.scoring.budget import KEYS
from trainer.signoff.criterion import FIELDS

SPANS = [one for page in PAGES if named(page) not in GENERATED for one in spans(page)]
A_NAME = re.compile(r"[A-Za-z]\w*(?:\.\w+)*(?:\(.*\))?")
A_LINE = re.compile(r"\w+ = .+")
OF_A_SERVER = {  # PostgreSQL manual: "Server Configuration", "Client Authentication", "Server Applications"
    "ssl_cert_file", "ssl_key_file", "postgresql.conf", "pg_hba.conf", "full_page_writes", "pg_basebackup",
    "ssl = on",
}  # fmt: skip
OF_WINDOWS = {"tenthwise.exe"}
SYMBOLIC = {"y = -R sin(angle)", "readings = k"}


def source():
    """Return all source text of program and tests."""
    kinds = ("*.py", "*.toml", "*.sql")
    files = [
        path
        for home in ("trainer", "tests", "sessions")
        for kind in kinds
        for path in (ROOT / home).rglob(kind)
    ]
    own = ("tests/docs/test_names.py",)
    return "\n".join(path.read_text(encoding="utf-8") for path in files if named(path) not in own)


def test_every_name_is_known():
    words = set(re.findall(r"\w+", source()))
    files = {
        path.name
        for home in ("trainer", "tests", "packaging", "sessions")
        for path in (ROOT / home).rglob("*")
    }
    names = {
        one.text: str(one) for one in SPANS if A_NAME.fullmatch(one.text) and re.search(r"[_.]", one.text)
    }
    assert len(names) > 150
    unknown = {
        text: where
        for text, where in names.items()
        if text not in files and not set(re.findall(r"\w+", text.partition("(")[0])) <= words
    }
    foreign = OF_A_SERVER | OF_WINDOWS
    assert {text: where for text, where in unknown.items() if text not in foreign} == {}
    assert sorted(foreign - {one.text for one in SPANS}) == [], "the docs have it no longer"


def test_every_test_that_is_named_is_there():
    named_tests = {one.text: str(one) for one in SPANS if "::" in one.text}
    assert len(named_tests) >= 3
    for text, where in named_tests.items():
        file, _, function = text.partition("::")
        (path,) = (ROOT / "tests").rglob(file)
        assert f"\ndef {function}(" in path.read_text(encoding="utf-8"), where


def test_every_line_of_toml_is_one_that_a_file_may_have():
    lines = {one.text: str(one) for one in SPANS if A_LINE.fullmatch(one.text)}
    assert len(lines) >= 6
    known = {*TYPES, *SETTINGS, *KEYS, *READING_FIELDS, *(field for _, field in FIELDS)}
    for text, where in lines.items():
        if text not in OF_A_SERVER | SYMBOLIC:
            (key,) = tomllib.loads(text)
            assert key in known, where
    assert {text for text in SYMBOLIC if text not in lines} == set()


def test_the_list_of_snippets_leaves_none_without_a_test(capsys):
    list_snippets.main()
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) > 250
    assert [line for line in lines if line != line.rstrip()] == [], "nothing stands behind these"


def test_the_canonical_bytes_are_those_of_the_line_in_the_page():
    (line,) = {one.text for one in SPANS if one.text.startswith("json.dumps(x,")}
    for x in ({"b": [1, 2.50, 1e-7], "a": 'µ "\t', "c": None}, {"z": 1e22, "é": -0.1}):
        assert eval(line, {"json": json, "x": x}) == canonical_text(x)


def test_the_tent_of_the_drawing_is_a_box_folded_with_a_box():
    """T(t) is the area of a triangle of base 2 below t: by adding up (docs/methods/drawing.md)."""
    assert any(one.text == "T(t) = 1/2 + t - t|t|/2" for one in SPANS)
    at = np.linspace(-1, 1, 20_001)
    area = np.cumsum(1 - np.abs(at)) * (at[1] - at[0])
    assert area == pytest.approx(0.5 + at - at * np.abs(at) / 2, abs=1e-4)
