"""Every command that the docs name is tried: those in `sh` blocks, and those in backticks that are whole.

A command is whole when the program's own parser takes it; one that lacks an argument is only spoken of, and
`test_snippets.py` sees to it that it exists. How each is tried stands in `cases.py`.
"""

import contextlib
import io
import json
import re
import shlex
import shutil
import sys
from typing import Any

import pytest
import typer.main

from tests.commands.laboratory import Reader
from tests.docs import prepared, test_snippets
from tests.docs.cases import BENCH, CASES, ELSEWHERE, ON_A_SERVER, SAMPLE
from tests.docs.snippets import (
    GENERATED,
    PAGES,
    Command,
    blocks,
    examples,
    is_script,
    named,
    shell_lines,
    spans,
)
from trainer.commands.main import COMMANDS, app, main

USAGE: Any = typer.BadParameter.__base__  # what is said of every wrong use


def every_line():
    """Return all that the pages say to type: the lines of `sh` blocks, code in texts, examples."""
    yield from examples()
    for page in PAGES:
        if named(page) in GENERATED:
            continue
        for block in blocks(page):
            if block.language == "sh" and not is_script(block) and named(page) != ON_A_SERVER:
                yield from shell_lines(block)
        yield from spans(page)


def of_the_program(text):
    """Return the words after the program's name where a text is a command of it, else None."""
    if re.match(r"export \w+=", text):
        return None
    try:
        words = shlex.split(text)
    except ValueError:
        return None
    if words[:1] == ["tenthwise"]:
        return words[1:]
    return words if len(words) > 1 and words[0] in COMMANDS else None


def is_whole(words):
    """Return whether the program's own parser takes the words as a command."""
    if not words or words[0] not in COMMANDS:
        return True  # the program itself: the window, its help
    command, rest = typer.main.get_command(app(words[0])), list(words)
    while hasattr(command, "commands") and rest and rest[0] in command.commands:
        command = command.commands[rest.pop(0)]
    if hasattr(command, "commands"):
        return False
    if ">" in rest:
        rest = rest[: rest.index(">")]
    try:
        with contextlib.redirect_stdout(io.StringIO()):
            command.make_context(command.name, rest)
    except USAGE:
        return False
    return True


SPOKEN = [one for one in every_line() if of_the_program(one.text) is not None]
WHOLE = {one.text: str(one) for one in SPOKEN if is_whole(of_the_program(one.text))}


def test_every_command_has_a_case_and_every_case_a_command():
    tried = {*CASES, *(text for text in ELSEWHERE if of_the_program(text))}
    assert {text: where for text, where in WHOLE.items() if text not in tried} == {}, "say in cases.py how"
    assert sorted(tried - set(WHOLE)) == [], "the docs have it no longer"


BARE = [
    Command(one.page, one.line, f"tenthwise {one.text}") for one in SPOKEN if one.text.split()[0] in COMMANDS
]


@pytest.mark.parametrize("command", BARE, ids=str)
def test_a_command_named_without_the_program_exists_with_its_options(command):
    test_snippets.test_every_command_in_the_docs_exists_with_its_options(command)


@pytest.fixture(scope="module")
def furnished(tmp_path_factory):
    """Give the laboratory in its folder; its clock is the program's while these tests run."""
    with pytest.MonkeyPatch.context() as patch:
        folder = tmp_path_factory.mktemp("docs")
        yield prepared.furnish(patch, folder)


@pytest.fixture
def stood(furnished, tmp_path, monkeypatch):
    """Give a function that makes the folder a case wants and stands in it."""

    def stand(where):
        folder = tmp_path / "here"
        if where == BENCH:
            shutil.copytree(furnished.folder, folder, symlinks=True)
            prepared.enter(monkeypatch, folder)
        else:
            folder.mkdir()
            prepared.enter(monkeypatch, folder, "new.tenthwise")
        if where == SAMPLE:
            monkeypatch.setenv("TENTHWISE_ARCHIVE", prepared.SAMPLE)
        return folder

    return stand


class Unhurried(io.StringIO):
    """Standard input whose every line takes five seconds."""

    def __init__(self, bench, text):
        super().__init__(text)
        self.bench = bench

    def readline(self, *size):
        """Return the next line, five seconds later."""
        self.bench.later(seconds=5)
        return super().readline(*size)


def filled(text, case, folder):
    """Return a command with what stands for the words of the page."""
    known = {}
    if case.where == BENCH:
        sheet, answers = (folder / "sheet.txt").read_text(encoding="utf-8").splitlines()
        ticket = (folder / "ticket.txt").read_text(encoding="utf-8")
        statement = json.loads((folder / "kim.json").read_text(encoding="utf-8"))["body"]["id"]
        known = {"{sheet}": sheet, "{answers}": answers, "{ticket}": ticket, "{statement}": statement}
    for word, given in case.fill.items():
        assert word in text
        text = re.sub(rf"(?<![\w.-]){re.escape(word)}(?![\w-])", known.get(given, given), text)
    return text


@pytest.mark.parametrize("text", CASES)
def test_a_command_does_what_is_said_of_it(text, furnished, stood, monkeypatch, capsys):
    case = CASES[text]
    folder = stood(case.where)
    for before in case.before:
        monkeypatch.setattr(sys, "stdin", io.StringIO())
        assert main(shlex.split(before)) == 0, before
    words = of_the_program(filled(text, case, folder))
    taken = case.typed == "{reader}"
    monkeypatch.setattr(sys, "stdin", Reader(furnished, 77) if taken else Unhurried(furnished, case.typed))
    shown = prepared.closing_at_once(monkeypatch) if case.window else []
    code = main(words[: words.index(">")] if ">" in words else words)
    out, err = capsys.readouterr()
    assert code == case.code, f"{out}\n{err}"
    assert case.says in out + err
    assert [name for name in case.made if not (folder / name).is_file()] == []
    assert bool(shown) is case.window


def test_a_case_says_something_that_can_fail():
    silent = [text for text, case in CASES.items() if not (case.says or case.made or case.window)]
    assert silent == []
