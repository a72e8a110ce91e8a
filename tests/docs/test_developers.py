"""The worked examples of DEVELOPERS.md, applied to a copy of the program, one after the other."""

import importlib.util
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = ROOT / "DEVELOPERS.md"
HEAD = re.compile(r"# (?P<path>\S+) \((?P<how>new|at the end|after: (?P<line>.+))\)")


def loaded(name):
    """Load a module that lies beside this one."""
    spec = importlib.util.spec_from_file_location(f"docs_{name}", Path(__file__).with_name(f"{name}.py"))
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


snippets, compare = loaded("snippets"), loaded("test_snippets").compare


def examples():
    """Return the sections under "How to add things" by their headings, each with its fenced blocks."""
    text = PAGE.read_text(encoding="utf-8")
    part = text[text.index("## How to add things") : text.index("## Rules worth knowing")]
    sections = re.split(r"^### (.+)$", part, flags=re.MULTILINE)[1:]
    return {
        name: re.findall(r"^```(\w+)\n(.*?)^```$", body, flags=re.MULTILINE | re.DOTALL)
        for name, body in zip(sections[::2], sections[1::2], strict=True)
    }


EXAMPLES = examples()


def apply(block, folder):
    """Do to the copy what a block says in its first line."""
    first, _, rest = block.partition("\n")
    told = HEAD.fullmatch(first)
    assert told, f"{first!r} does not say where the block goes"
    path = folder / told["path"]
    if told["how"] == "new":
        assert not path.exists(), f"{path} is there already"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(rest, encoding="utf-8")
        return
    before = path.read_text(encoding="utf-8")
    if told["how"] == "at the end":
        path.write_text(before.rstrip("\n") + "\n" + rest, encoding="utf-8")
        return
    lines = before.splitlines(keepends=True)
    (at,) = [n for n, line in enumerate(lines) if line.strip() == told["line"]]
    path.write_text("".join([*lines[: at + 1], rest, *lines[at + 1 :]]), encoding="utf-8")


def run(command, folder):
    """Run a line of a console in the copy, and compare what it prints."""
    words = shlex.split(command.text)
    words = (
        [sys.executable, "-m", "trainer", *words[1:]]
        if words[0] == "tenthwise"
        else [sys.executable, *words[1:]]
    )
    done = subprocess.run(
        words,
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        env={**os.environ, "PYTHONPATH": str(folder), "PYTHONIOENCODING": "utf-8", "COLUMNS": "110"},
    )
    assert "Traceback" not in done.stderr, done.stderr
    assert done.returncode in (0, 1)
    compare(command, (done.stdout + done.stderr).splitlines())


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """Give a copy of the program to change."""
    folder = tmp_path_factory.mktemp("developer")
    for name in ("trainer", "sessions"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "_shipped"))
    return folder


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_worked_example_works(name, copy):
    consoles = {c.text: c for block in snippets.consoles(PAGE) for c in block}
    for language, block in EXAMPLES[name]:
        if language != "console":
            apply(block, copy)
            continue
        for line in re.findall(r"^\$ (.+)$", block, flags=re.MULTILINE):
            run(consoles[line], copy)


def test_the_examples_are_the_ones_that_were_promised():
    wanted = (
        "instrument",
        "plan",
        "kind of drill",
        "statistic",
        "command",
        "figure",
        "language",
        "database step",
    )
    assert [name.split(maxsplit=1)[1] for name in EXAMPLES] == list(wanted)
