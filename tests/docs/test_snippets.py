"""Whatever the docs say to type can be typed, and prints what they say it prints."""

import importlib.util
import re
import sys
from pathlib import Path

import pytest
import typer.main

from trainer.commands.main import COMMANDS, app, main

ROOT = Path(__file__).resolve().parent.parent.parent
spec = importlib.util.spec_from_file_location("docs_snippets", ROOT / "tests" / "docs" / "snippets.py")
snippets = sys.modules["docs_snippets"] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(snippets)

MENTIONED = [one for page in snippets.PAGES if page.name != "commands.md" for one in snippets.mentioned(page)]
WITH_CONSOLES = [page for page in snippets.PAGES if page.name != "DEVELOPERS.md" and snippets.consoles(page)]
OF_THE_PROGRAM = {"--archive", "--version", "--help", "--install-completion", "--show-completion"}


def leaf(words):
    """Return the command that words name, and the words after its name."""
    command = typer.main.get_command(app(words[0]))
    rest = list(words)
    while hasattr(command, "commands") and rest and rest[0] in command.commands:
        command = command.commands[rest.pop(0)]
    return command, rest


@pytest.mark.parametrize("command", MENTIONED, ids=str)
def test_every_command_in_the_docs_exists_with_its_options(command):
    words = command.words
    if words[0].startswith("-"):
        assert words[0] in OF_THE_PROGRAM, command.text
        return
    assert words[0] in COMMANDS, command.text
    found, rest = leaf(words)
    assert not getattr(found, "commands", None) or not rest or rest[0].startswith("-"), command.text
    known = {name for parameter in found.params for name in (*parameter.opts, *parameter.secondary_opts)}
    known.add("--help")
    options = {re.sub(r"=.*", "", word) for word in rest if re.match(r"--?[a-z]", word)}
    assert options <= known, f"{command}: {options - known} is no option of {command.text}"


@pytest.mark.parametrize("page", WITH_CONSOLES, ids=lambda page: page.stem)
def test_the_consoles_of_a_page_print_what_it_says(page, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "110")
    monkeypatch.setenv("TENTHWISE_ARCHIVE", "")
    monkeypatch.delenv("TENTHWISE_ARCHIVE")
    (tmp_path / "sessions").symlink_to(ROOT / "sessions")
    for block in snippets.consoles(page):
        for command in block:
            code = snippets.typed(command, main)
            out, err = capsys.readouterr()
            assert code in (0, 1), f"{command}: {err}"
            compare(command, (out + err).splitlines())


def compare(command, printed):
    """Compare what was printed with the page, on which a line `…` stands for any lines and … for any text."""
    if not command.printed and command.text.startswith("export "):
        return
    pattern = "\n".join(
        "(?s:.*?)" if line.strip() == "…" else ".*?".join(map(re.escape, line.rstrip().split("…")))
        for line in command.printed
    )
    text = "\n".join(line.rstrip() for line in printed)
    found = re.fullmatch(rf"\s*{pattern.strip()}\s*", text)
    assert found, f"{command}: {command.text}\nprints\n{text}\nand not\n" + "\n".join(command.printed)


def test_the_docs_hold_commands_at_all():
    assert len(MENTIONED) > 30
    command, rest = leaf(["archive", "check", "--since", "heads.json"])
    assert (command.name, rest) == ("check", ["--since", "heads.json"])
