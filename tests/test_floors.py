"""The shape of the house: imports go down only, each outside library has its room, modules stay small."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "trainer"
MODULES = sorted(
    path for path in PACKAGE.rglob("*.py") if "_shipped" not in path.parts and path.parent != PACKAGE
)
FLOOR = {
    "instrument": 1,
    "drawing": 2,
    "scoring": 2,
    "practice": 3,
    "signoff": 3,
    "records": 4,
    "reports": 4,
    "desktop": 5,
    "commands": 6,
}
# which rooms may import a library from outside (docs/design.md, rooms and floors)
ALLOWED = {
    "instrument": {"numpy"},
    "drawing": {"numpy"},
    "scoring": {"numpy", "scipy", "pandas"},
    "practice": {"numpy"},
    "signoff": {"numpy", "scipy", "cryptography"},
    "records": {"numpy", "sqlalchemy", "pandas", "platformdirs", "psycopg", "xlsxwriter"},
    "reports": {"numpy", "scipy", "pandas", "matplotlib", "xlsxwriter"},
    "desktop": {"numpy", "pygame", "platformdirs", "pandas", "matplotlib"},
    "commands": {"numpy", "pandas", "typer", "rich", "platformdirs"},
}


def imported(module: Path) -> set[str]:
    """Return the dotted names that a module imports, wherever in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def room_of(module: Path) -> str:
    return module.relative_to(PACKAGE).parts[0]


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_rooms_import_only_downwards(module):
    room = room_of(module)
    parts = (name.split(".") for name in imported(module) if name.startswith("trainer."))
    others = {name[1] for name in parts} - {room, "__version__"}
    assert {other for other in others if FLOOR.get(other, 99) >= FLOOR[room]} == set()


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_library_stays_in_its_room(module):
    outside = {name.split(".")[0] for name in imported(module)} - sys.stdlib_module_names - {"trainer"}
    assert outside - ALLOWED[room_of(module)] == set()


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_is_one_idea(module):
    lines = module.read_text(encoding="utf-8").count("\n")
    assert lines <= 320, "split the module: about 300 lines are enough for one idea"


@pytest.mark.parametrize("room", sorted(FLOOR))
def test_a_room_says_in_one_sentence_what_it_is_for(room):
    tree = ast.parse((PACKAGE / room / "__init__.py").read_text(encoding="utf-8"))
    assert len(tree.body) == 1, "a room re-exports nothing"
    assert ast.get_docstring(tree)


def test_no_room_for_leftovers():
    assert {path.stem for path in MODULES} & {"utils", "helpers", "common", "misc"} == set()


def test_the_rules_load_without_screen_database_or_figures():
    rules = "trainer.practice.session, trainer.practice.deal, trainer.drawing.painter, trainer.commands.main"
    heavy_names = ("pygame", "sqlalchemy", "matplotlib", "scipy", "pandas", "typer")
    code = f"import sys, {rules}; print([m for m in {heavy_names} if m in sys.modules])"
    heavy = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert heavy.stdout.strip() == "[]"


def test_the_top_level_is_fixed():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=PACKAGE.parent, capture_output=True, text=True, check=True
    ).stdout.split()
    top = {name.split("/")[0] for name in listed}
    named = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "LICENSE",
        "trainer",
        "tests",
        "sessions",
        "docs",
        "packaging",
        "mkdocs.yml",
    }
    assert {name for name in top if not name.startswith(".")} <= named
