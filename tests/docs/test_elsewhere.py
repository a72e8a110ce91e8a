"""What the docs say to type and `test_typed_lines.py` does not try: where it is done, or why it cannot be."""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys

import pytest
import typer.main
from pypdf import PdfReader

from tests.docs.cases import ELSEWHERE, NOT_TRIED
from tests.docs.snippets import PAGES, ROOT, blocks, is_script, named, prose, spans
from tests.docs.test_typed_lines import every_line, of_the_program
from trainer.commands.main import app, main

TOOLS = {"python", "pip", "ruff", "mypy", "psql", "createdb", "pyinstaller", "mkdocs", "openssl", "sha256sum"}
SCRIPT = re.compile(r"\S+\.(py|sh) \S")
PLACE = re.compile(r"(trainer|tests|docs|sessions|packaging|\.ci)/[\w./*-]*\w")
LEFT = [one for one in every_line() if of_the_program(one.text) is None]


def is_typed(text):
    """Return whether a text in backticks is a command of another program, with something behind its name."""
    return (text.split()[0] in TOOLS and " " in text) or bool(SCRIPT.match(text))


OTHERS = {one.text: str(one) for one in LEFT if is_typed(one.text)}
ALL = {one.text for one in every_line()}


def test_every_command_of_another_program_is_accounted_for():
    told = {*ELSEWHERE, *NOT_TRIED}
    assert {text: where for text, where in OTHERS.items() if text not in told} == {}
    assert sorted(told - ALL) == [], "the docs have it no longer"
    assert not set(ELSEWHERE) & set(NOT_TRIED)


@pytest.mark.parametrize("text", ELSEWHERE)
def test_what_is_done_elsewhere_is_done_there(text):
    _, where, shown = ELSEWHERE[text]
    assert shown in (ROOT / where).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "text", [text for text in {*ELSEWHERE, *NOT_TRIED} if re.search(r"\S+\.(py|spec)\b", text)]
)
def test_a_script_is_there_and_knows_its_options(text):
    words = shlex.split(text)
    (path,) = [ROOT / word for word in words if re.search(r"\.(py|spec)$", word)]
    source = path.read_text(encoding="utf-8")
    compile(source, str(path), "exec")
    for option in [word for word in words if word.startswith("--")]:
        assert f'"{option}"' in source, f"{path.name} does not know {option}"


def test_every_option_spoken_of_alone_is_one():
    def options(command):
        known = {name for one in command.params for name in (*one.opts, *one.secondary_opts)}
        return known.union(*map(options, getattr(command, "commands", {}).values()))

    known = options(typer.main.get_command(app()))
    found = {one.text: str(one) for page in PAGES for one in spans(page) if one.text.startswith("--")}
    assert len(found) > 20
    assert {text: where for text, where in found.items() if text.split()[0] not in known} == {}


def test_every_file_of_the_repository_that_is_named_is_there():
    found = {one.text: str(one) for page in PAGES for one in spans(page) if PLACE.fullmatch(one.text)}
    assert len(found) > 60
    gone = {
        text: where for text, where in found.items() if not (list(ROOT.glob(text)) or (ROOT / text).exists())
    }
    assert gone == {}


def test_the_shell_learns_the_commands(tmp_path):
    environment = {
        **os.environ,
        "HOME": str(tmp_path),
        "SHELL": shutil.which("bash"),
        "PYTHONPATH": str(ROOT),
    }
    program = f"'{sys.executable}' -m trainer --install-completion; exit $?"  # the shell is asked who it is
    done = subprocess.run(
        ["bash", "-c", program], cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    written = "".join(path.read_text(encoding="utf-8") for path in tmp_path.rglob("*") if path.is_file())
    assert "_TENTHWISE_COMPLETE" in written
    assert "complete -o default -F" in written


SCRIPTS = [block for page in PAGES for block in blocks(page) if block.language == "sh" and is_script(block)]


def test_the_scripts_are_the_one_that_verifies_by_hand():
    assert [named(block.page) for block in SCRIPTS] == ["docs/verify-by-hand.md"]


@pytest.mark.skipif(not (shutil.which("bash") and shutil.which("openssl")), reason="wants bash and openssl")
@pytest.mark.parametrize("changed", [False, True])
def test_a_statement_is_verified_by_hand_as_the_page_says(tmp_path, changed):
    """The shipped statement, as signed and with one word changed; openssl and sha256sum are the system's."""
    sample = ROOT / "sessions" / "recorded"
    statement = json.loads((sample / "inspector-1.json").read_text(encoding="utf-8"))
    if changed:
        statement["body"]["person"]["name"] = "Inspector 2"
    (tmp_path / "kim.json").write_text(json.dumps(statement), encoding="utf-8")
    signer, pem = statement["body"]["supervisor"]["account"], str(tmp_path / "supervisor.pem")
    assert (
        main(["signoff", "keys", "publish", signer, "--out", pem, "--archive", f"{sample}/pump-shop.sqlite"])
        == 0
    )
    done = subprocess.run(
        ["bash", "-c", SCRIPTS[0].text], cwd=tmp_path, capture_output=True, text=True, timeout=60
    )
    verified, sha256 = done.stdout.splitlines()
    page = " ".join(prose(SCRIPTS[0].page).split())
    says = re.search(r"openssl says `([^`]+)`", page)[1]
    assert (verified == says) is not changed
    certificate = "".join(PdfReader(sample / "inspector-1.pdf").pages[0].extract_text().split())
    assert (sha256.split()[0] in certificate) is not changed
