"""The docs as a site, and their spelling."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
KNOWN = "olt,datas,sie"  # an invented name, a word of the stand-alone build, one of the German example


def test_the_site_builds_strictly_and_fetches_nothing(tmp_path):
    built = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(tmp_path / "site")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert built.returncode == 0, built.stderr
    pages = sorted((tmp_path / "site").rglob("*.html"))
    assert len(pages) > 15
    for page in pages:
        text = page.read_text(encoding="utf-8")
        for outside in ('src="http', 'rel="stylesheet" href="http', "@import"):
            assert outside not in text, f"{page.name} fetches something from outside"


def test_spelling():
    where = ["docs", "README.md", "DEVELOPERS.md", "trainer", "sessions", "packaging"]
    found = subprocess.run(
        [
            *(sys.executable, "-m", "codespell_lib", "--ignore-words-list", KNOWN),
            *("--skip", "*.sqlite,*.csv,*.pdf,*.png,*.svg,*.ico,*.icns,__pycache__", *where),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert found.returncode == 0, found.stdout + found.stderr


def test_the_speller_can_find_something():
    found = subprocess.run(
        [sys.executable, "-m", "codespell_lib", "-"],
        input="recieve\n",
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "receive" in found.stdout
