"""The packages: what a wheel and an sdist carry, and the program run from a wheel outside the checkout."""

import os
import shlex
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.docs.snippets import spans

ROOT = Path(__file__).resolve().parent.parent.parent
SESSIONS = sorted(
    path.relative_to(ROOT).as_posix()
    for path in (ROOT / "sessions").rglob("*")
    if path.is_file() and "__pycache__" not in path.parts
)


def run(*words, where, **environment):
    """Run a program in a folder and return what it printed; a failure shows its complaint."""
    done = subprocess.run(
        words, cwd=where, capture_output=True, text=True, timeout=300, env={**os.environ, **environment}
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def built(source, target, kind):
    """Build a wheel or sdist of a source tree, without network, and return its path."""
    run(sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(target), where=source)
    (made,) = target.iterdir()
    return made


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Give a wheel built from the checkout."""
    return built(ROOT, tmp_path_factory.mktemp("wheel"), "wheel")


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """Give a folder into which the wheel was installed, far from the checkout."""
    target = tmp_path_factory.mktemp("installed")
    run(
        *(sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"),
        *("--disable-pip-version-check", "--target", str(target), str(wheel)),
        where=target,
    )
    return target


def test_the_wheel_carries_every_shipped_file_and_no_test(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {f"trainer/_shipped/{name}" for name in SESSIONS} <= names
    assert {"trainer/py.typed", "trainer/records/roles.sql", "trainer/instrument/catalogue.toml"} <= names
    assert not [name for name in names if name.startswith(("tests/", "docs/")) or "__pycache__" in name]


def test_a_wheel_built_from_the_sdist_is_the_same_wheel(wheel, tmp_path):
    sdist = built(ROOT, tmp_path / "made", "sdist")
    with tarfile.open(sdist) as packed:
        packed.extractall(tmp_path / "unpacked", filter="data")
    (source,) = (tmp_path / "unpacked").iterdir()
    assert (source / "tests" / "packages" / Path(__file__).name).is_file(), "the sdist can be tested"
    assert (source / "docs" / "design.md").is_file()
    assert (source / "packaging" / "tenthwise.spec").is_file()
    again = built(source, tmp_path / "again", "wheel")
    first, second = zipfile.ZipFile(wheel), zipfile.ZipFile(again)
    assert {i.filename: i.CRC for i in first.infolist()} == {i.filename: i.CRC for i in second.infolist()}


def test_the_installed_wheel_works_far_from_the_checkout(installed, tmp_path):
    def say(*words):
        return run(sys.executable, "-m", "trainer", *words, where=tmp_path, PYTHONPATH=str(installed))

    where = run(
        *(sys.executable, "-c", "import trainer; print(trainer.__file__)"),
        where=tmp_path,
        PYTHONPATH=str(installed),
    )
    assert Path(where.strip()).is_relative_to(installed)
    assert "first-tenths-metric" in say("plans", "list")
    assert "first-level-metric" in say("signoff", "criteria")
    say("people", "add", "Kim", "--archive", "bench.sqlite")
    assert "Kim" in say("people", "list", "--archive", "bench.sqlite")
    say("draw", "--instrument", "metric", "--reading", "7.3742", "--out", "look.png")
    assert (tmp_path / "look.png").read_bytes().startswith(b"\x89PNG")


def test_a_wheel_is_installed_as_the_guide_says(wheel, tmp_path):
    """What the page has, word for word; pip is only told to leave libraries and the tests' own place be."""
    page = ROOT / "docs" / "guide" / "installing.md"
    told = [one.text for one in spans(page) if one.text.startswith("python -m pip ")]
    assert [text.split()[3] for text in told] == ["install", "download", "install"]
    assert {wheel.name} == {word for text in told for word in text.split() if word.endswith(".whl")}
    shutil.copy(wheel, tmp_path)
    for number, text in enumerate(told):
        here = tmp_path / f"place-{number}"
        quiet = {"PIP_NO_DEPS": "1", "PIP_TARGET": str(here), "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
        run(sys.executable, *shlex.split(text)[1:], where=tmp_path, **quiet)
        assert (here / "trainer" / "api.py").is_file() is ("install" in text)
