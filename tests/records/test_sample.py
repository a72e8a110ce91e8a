"""The shipped sample: whole, only to be looked at, its clock standing, made by its own script."""

import hashlib
import importlib.util
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainer.commands.main import main
from trainer.records import check, office, upgrade
from trainer.records.archive import Archive
from trainer.records.refusals import ReadOnlyArchive

FOLDER = Path(__file__).resolve().parent.parent.parent / "sessions" / "recorded"
SAMPLE = FOLDER / "pump-shop.sqlite"


@pytest.fixture
def sample(tmp_path):
    """Give a copy of the sample, writable as any file is."""
    return Path(shutil.copy(SAMPLE, tmp_path))


def test_the_sample_is_whole_and_of_this_version(sample):
    with Archive.open(sample) as archive:
        assert archive.store.version() == len(upgrade.STEPS), "make it anew: sessions/recorded/make_sample.py"
        assert list(check.check(archive.store).findings) == []
        assert [person.name for person in archive.people()] == [f"Inspector {n}" for n in range(1, 7)]


def test_the_sample_holds_what_its_readme_says(sample):
    with Archive.open(sample) as archive:
        sessions = archive.sessions()
        assert len(office.due(archive)) == 2
    assert {"tenths", "full-reading", "judge", "vernier", "set-line", "bench-check"} <= set(sessions["drill"])
    assert (sessions["drill"] == "bench-check").sum() == 1
    sheets = list(FOLDER.glob("sheet-*.pdf"))
    assert len(sheets) == 1
    assert sheets[0].name in (FOLDER / "README.md").read_text(encoding="utf-8")


def test_looking_at_the_sample_does_not_change_its_file(sample, capsys):
    before = hashlib.sha256(sample.read_bytes()).digest()
    for words in (["people", "list"], ["signoff", "list"], ["archive", "check"], ["report", "Inspector 1"]):
        out = ["--out", str(sample.with_suffix(".pdf"))] if words[0] == "report" else []
        assert main([*words, *out, "--archive", str(sample)]) == 0, capsys.readouterr().err
    assert hashlib.sha256(sample.read_bytes()).digest() == before
    assert not list(sample.parent.glob("*-wal"))


def test_the_sample_cannot_be_written_to(sample, capsys):
    with Archive.open(sample) as archive:
        assert archive.read_only
        with pytest.raises(ReadOnlyArchive, match="shipped sample"):
            archive.add_person("Somebody New")
    assert main(["people", "add", "Somebody New", "--archive", str(sample)]) == 1
    assert "can only be looked at" in capsys.readouterr().err


def test_the_clock_of_the_sample_stands_at_its_day(sample):
    running = datetime(2099, 1, 1, tzinfo=UTC)
    with Archive.open(sample, clock=lambda: running) as archive:
        assert archive.store.clock() < datetime(2026, 8, 1, tzinfo=UTC)
        assert all(standing.in_force for _, standing in office.due(archive))


def test_the_shipped_statements_hold(sample, capsys):
    for number in (1, 2):
        statement = str(FOLDER / f"inspector-{number}.json")
        code = main(["verify", statement, "--on", "2026-07-03", "--archive", str(sample)])
        assert code == 0, capsys.readouterr().out


def test_the_script_makes_the_same_readings_again(tmp_path):
    spec = importlib.util.spec_from_file_location("make_sample", FOLDER / "make_sample.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    made = script.make(tmp_path)
    with Archive.open(made) as new, Archive.open(SAMPLE) as shipped:
        columns = ["person", "item", "truth_tenths", "answer_tenths", "drill", "at"]
        again, kept = (
            one.answers()[columns].sort_values(["at", "person", "item"], ignore_index=True)
            for one in (new, shipped)
        )
    assert again.equals(kept)
