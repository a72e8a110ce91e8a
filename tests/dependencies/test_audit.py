"""Dependencies are those agreed, bounded, and under the licences agreed; what is not would be told."""

import importlib.util
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

SCRIPT = Path(__file__).with_name("audit.py")


@pytest.fixture(scope="module")
def audit():
    """Give the script's module."""
    spec = importlib.util.spec_from_file_location("dependency_audit", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def wanted(audit):
    """Give what pyproject.toml asks for."""
    return audit.asked(tomllib.loads((audit.ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"])


def test_what_is_asked_for_and_imported_was_agreed(audit, wanted):
    modules = audit.imported(audit.ROOT / "trainer")
    assert {"numpy", "sqlalchemy", "pygame"} <= set(modules)
    assert list(audit.faults_of_names(wanted, modules, audit.agreed())) == []


def test_versions_are_bounded_and_none_known_to_be_bad_is_allowed(audit, wanted):
    assert list(audit.faults_of_versions(wanted, audit.agreed())) == []


def test_what_is_installed_has_the_licences_agreed_and_no_version_known_to_be_bad(audit, wanted):
    found = audit.installed(wanted)
    assert {"numpy", "pillow", "psycopg-binary", "hypothesis"} <= set(found)
    assert list(audit.faults_of_installed(found, audit.agreed())) == []


def test_an_unagreed_dependency_is_told(audit, wanted):
    more = [*wanted, audit.Asked(Requirement("left-field>=1"), "runtime")]
    found = list(audit.faults_of_names(more, {"left_field": {"a.py"}}, audit.agreed()))
    assert found == [
        "pyproject.toml asks for left-field (runtime), which is not agreed",
        "left_field is imported (a.py) and is not agreed",
    ]


def test_a_tool_of_the_tests_is_not_agreed_for_the_program(audit):
    found = audit.faults_of_names([audit.Asked(Requirement("pytest>=8"), "runtime")], {}, audit.agreed())
    assert "pytest (runtime), which is not agreed" in next(found)


def test_missing_bounds_and_bad_versions_are_told(audit):
    asked = [audit.Asked(Requirement(text), "runtime") for text in ("rich", "cryptography>=43")]
    found = list(audit.faults_of_versions(asked, audit.agreed()))
    assert found[0] == "rich (runtime) has no lower bound"
    assert "CVE-2024-12797" in found[1]


def test_another_licence_and_a_bad_version_are_told(audit, wanted):
    agreement = audit.agreed()
    agreement["runtime"]["rich"]["licence"] = "WTFPL"
    agreement["known_bad"] = [{"package": "typer", "versions": ">=0", "why": "for the test"}]
    found = list(audit.faults_of_installed(audit.installed(wanted), agreement))
    assert len(found) == 2
    assert "rich is under MIT" in found[0]
    assert "for the test" in found[1]


def test_a_package_that_the_advisory_source_does_not_know_does_not_pass(audit):
    told = {
        "dependencies": [
            {"name": "rich", "skip_reason": "not found"},
            {"name": "typer", "version": "1", "vulns": []},
            {"name": "numpy", "version": "1.0", "vulns": [{"id": "PYSEC-1"}]},
        ]
    }
    assert audit.judged(told) == (["numpy 1.0: PYSEC-1"], ["rich"])


def test_an_audit_without_an_advisory_source_says_so_and_does_not_end_well(audit, monkeypatch, capsys):
    monkeypatch.setattr(audit.sys, "executable", "python-that-prints-nothing")
    monkeypatch.setattr(
        audit.subprocess,
        "run",
        lambda *_, **__: audit.subprocess.CompletedProcess([], 1, stdout="", stderr=""),
    )
    assert audit.advisories({}, set()) == audit.NOT_REACHED
    assert "NOT REACHED" in capsys.readouterr().out
