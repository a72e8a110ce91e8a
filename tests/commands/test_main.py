"""The command line's frame: exit codes, one sentence for a refusal, never a traceback."""

import errno
import importlib
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from trainer import __version__
from trainer.commands import main as command_line
from trainer.commands import output
from trainer.commands.main import COMMANDS, main

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name, capsys):
    assert main([name, "--help"]) == 0
    shown = capsys.readouterr().out
    module, attribute = COMMANDS[name]
    command = getattr(importlib.import_module(f"trainer.commands.{module}"), attribute)
    if isinstance(command, typer.Typer):
        about = command.info.help or ""
        about += "".join((c.callback.__doc__ or "") for c in command.registered_commands if c.callback)
    else:
        about = command.__doc__ or ""
    assert "tenthwise " + name in about, "the help shows an example"
    assert shown.strip()


def test_the_version_is_told(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"tenthwise {__version__}\n"


def test_wrong_usage_is_exit_code_2(capsys):
    assert main(["no-such-command"]) == 2
    assert main(["drill"]) == 2
    assert main(["--archive"]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_a_refusal_is_one_sentence_and_exit_code_1(capsys, tmp_path):
    assert main(["drill", "tenth", "--person", "Kim", "--no-window", str(tmp_path)]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("tenthwise: there is no plan 'tenth'")
    assert said.err.count("\n") == 1


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (OSError(errno.ENOSPC, "No space left on device", "out.csv"), "out.csv: the disk is full"),
        (PermissionError(errno.EACCES, "Permission denied", "out.csv"), "out.csv: access is denied"),
        (KeyboardInterrupt(), "what was entered before is kept"),
        (MemoryError(), "not enough memory"),
    ],
)
def test_faults_of_the_machine_are_sentences_too(fault, words, capsys, monkeypatch):
    def fail(given):
        raise fault

    monkeypatch.setattr(command_line, "_command", fail)
    assert main(["score", "x.csv"]) in (1, 130)
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said


def test_the_module_runs_as_the_command_does():
    told = subprocess.run(
        [sys.executable, "-m", "trainer", "--version"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert told.stdout.strip() == f"tenthwise {__version__}"


def test_a_closed_pipe_is_no_fault_worth_a_traceback():
    listed = subprocess.run(
        f"{sys.executable} -m trainer plans list | head -1",
        cwd=ROOT, capture_output=True, text=True, check=True, shell=True,
    )  # fmt: skip
    assert "Traceback" not in listed.stderr


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("tenthwise dr", {"drill", "draw"}), ("tenthwise signoff st", {"status", "standing"})],
)
def test_the_shell_completes_commands_and_opens_no_window(typed, offered, monkeypatch, capsys):
    monkeypatch.setattr(command_line, "_window", lambda given: pytest.fail("a window was opened"))
    monkeypatch.setenv("_TENTHWISE_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", typed)
    monkeypatch.setenv("COMP_CWORD", str(len(typed.split()) - 1))
    assert main([]) == 0
    assert set(capsys.readouterr().out.split()) == offered


def test_a_file_in_a_folder_that_is_not_there_is_told_by_its_own_name(tmp_path, capsys):
    wanted = tmp_path / "none" / "shaft.png"
    assert main(["budget", "shaft", "--figure", str(wanted)]) == 1
    assert (
        capsys.readouterr().err == f"tenthwise: {wanted}: there is no such file or folder; check the path\n"
    )


def test_an_export_into_a_pipe_that_was_closed_blames_no_archive(tmp_path):
    place = tmp_path / "a.tenthwise"
    assert main(["people", "add", "Kim", "--archive", str(place)]) == 0
    program = (
        "import os, sys\n"
        "from trainer.commands.main import main\n"
        "reading, writing = os.pipe()\n"
        "os.close(reading)\n"
        "os.dup2(writing, 1)\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    asked = ["export", "people", "--archive", str(place)]
    done = subprocess.run(
        [sys.executable, "-c", program, *asked], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (1, "")


def printed(monkeypatch, encoding, *arguments):
    """Return what a command prints to a terminal of an encoding, as bytes."""
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding=encoding))
    assert main([str(one) for one in arguments]) == 0
    sys.stdout.flush()
    return raw.getvalue()


@pytest.fixture
def low_reader(tmp_path):
    """Return a file of answers by somebody who reads 0.3 tenth low."""
    rows = [f"René,{n * 7.3:.1f},{n * 7.3 - 0.3 + 0.2 * (n % 3 - 1):.1f}" for n in range(1, 61)]
    file = tmp_path / "answers.csv"
    file.write_text("\n".join(["person,truth_tenths,answer_tenths", *rows]), encoding="utf-8")
    return file


@pytest.mark.parametrize(("encoding", "name"), [("cp1252", "René"), ("cp437", "René"), ("ascii", "Ren?")])
def test_signs_that_an_encoding_lacks_are_printed_in_plain_ones(monkeypatch, low_reader, encoding, name):
    told = printed(monkeypatch, encoding, "score", low_reader).decode(encoding)
    assert told.count("-0.3") >= 1
    assert "\n" + name in told.replace("\r", "")
    assert "?" not in told.replace(name, "")


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_json_is_json_in_every_encoding(monkeypatch, low_reader, encoding):
    told = printed(monkeypatch, encoding, "score", low_reader, "--json")
    assert json.loads(told)["people"][0]["person"] == "René"  # json.loads takes bytes for UTF-8


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_progress_is_shown_on_a_terminal_alone_and_wiped_when_the_work_is_over(monkeypatch):
    for stream, shown in ((Terminal(), "\r120 acts\r7 acts  \r        \r"), (io.StringIO(), "")):
        monkeypatch.setattr(sys, "stderr", stream)
        with output.progress() as tell:
            tell("120 acts")
            tell("7 acts")
        assert stream.getvalue() == shown


def test_help_is_broken_by_the_width_of_the_terminal_alone(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["--help"]) == 0
    told = [line.strip() for line in capsys.readouterr().out.splitlines()]
    place = told.index("Without a command the window opens. A screen score shows skill on a picture")
    assert told[place + 1].startswith("and must be confirmed on a real instrument")
    assert not any("--no-version" in line for line in told)
