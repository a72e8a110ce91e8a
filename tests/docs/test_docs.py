"""The docs against the program: commands, links, the changelog."""

import importlib.util
import re
from pathlib import Path

import pytest
from markdown.extensions.toc import slugify

from trainer import __version__

ROOT = Path(__file__).resolve().parent.parent.parent
PAGES = sorted([*ROOT.glob("docs/**/*.md"), ROOT / "README.md", ROOT / "DEVELOPERS.md"])


def test_the_page_of_commands_is_the_programs_own_help():
    spec = importlib.util.spec_from_file_location(
        "make_commands", ROOT / "tests" / "docs" / "make_commands.py"
    )
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    assert (ROOT / "docs" / "commands.md").read_text(encoding="utf-8") == made.page()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page):
    text = page.read_text(encoding="utf-8")
    targets = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text)
    broken = [t for t in targets if "://" not in t and not (page.parent / t).exists()]
    assert broken == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_into_a_page_leads_to_a_heading(page):
    """By the rule of the site's own table of contents (Python-Markdown, toc)."""
    text = page.read_text(encoding="utf-8")
    for target, anchor in re.findall(r"\]\(([^)#\s]*)#([^)]+)\)", text):
        if "://" not in target:
            other = (page.parent / target if target else page).read_text(encoding="utf-8")
            headings = re.findall(r"^#+ (.+)$", other, flags=re.MULTILINE)
            assert anchor in [slugify(heading.replace("`", ""), "-") for heading in headings], anchor


def test_the_changelog_names_the_version():
    assert f"\n## {__version__}" in (ROOT / "docs" / "changelog.md").read_text(encoding="utf-8")


def test_the_readme_gives_the_two_commands_that_ci_runs():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "python -m pip install . && tenthwise demo" in readme
    test_command = "python -m pip install '.[test]' && python -m pytest"
    assert test_command in readme
    assert test_command in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
