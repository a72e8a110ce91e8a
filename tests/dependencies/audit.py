"""What the program depends on against what was agreed (agreed.toml): names, bounds, licences, known faults.

Run: python tests/dependencies/audit.py [--advisories]

Ends with 0 when all is as agreed and 1 when not. With --advisories the installed versions are also compared
with published advisories, by pip-audit (to be installed beside). That needs an advisory source in reach;
where there is none, or where it does not know a package, the audit says so in capitals and ends with 3: a
comparison that was not made is not passed.
"""

import argparse
import ast
import importlib.metadata
import json
import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.version import Version

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
NOT_REACHED = 3
LOWER = (">=", ">", "==", "~=")


@dataclass(frozen=True)
class Asked:
    """A requirement of pyproject.toml and where it stands: "runtime", or the name of an extra."""

    requirement: Requirement
    where: str

    @property
    def name(self) -> str:
        """The package's name in its one normal form."""
        return normal(self.requirement.name)


def normal(name: str) -> str:
    """Return a package's name as it is compared (PyPA specification "Names and normalization")."""
    return re.sub(r"[-_.]+", "-", name).lower()


def agreed() -> dict[str, Any]:
    """Return what was agreed."""
    return tomllib.loads((HERE / "agreed.toml").read_text(encoding="utf-8"))


def asked(project: Mapping[str, Any]) -> list[Asked]:
    """Return what a pyproject's [project] asks for."""
    found = [Asked(Requirement(text), "runtime") for text in project["dependencies"]]
    for extra, texts in project.get("optional-dependencies", {}).items():
        found += [Asked(Requirement(text), extra) for text in texts]
    return found


def imported(package: Path) -> dict[str, set[str]]:
    """Return the outside modules that a package's files import, and which files do."""
    found: dict[str, set[str]] = {}
    for path in package.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names = [node.module]
            for name in names:
                top = name.split(".")[0]
                if top not in sys.stdlib_module_names and top not in ("trainer", "__future__"):
                    found.setdefault(top, set()).add(path.name)
    return found


def faults_of_names(
    wanted: list[Asked], modules: Mapping[str, set[str]], agreed: Mapping[str, Any]
) -> Iterator[str]:
    """Yield what is asked for or imported and was not agreed, and what was agreed and is not asked for."""
    outside = {**agreed["runtime"], **agreed["optional"]}
    for one in wanted:
        allowed = agreed["runtime"] if one.where == "runtime" else {**outside, **agreed["development"]}
        if one.name not in allowed:
            yield f"pyproject.toml asks for {one.name} ({one.where}), which is not agreed"
    known = {fields["module"] for fields in outside.values()}
    for module, files in sorted(modules.items()):
        if module not in known:
            yield f"{module} is imported ({', '.join(sorted(files)[:3])}) and is not agreed"
    names = {one.name for one in wanted}
    for name in (*outside, *agreed["development"]):
        if name not in names:
            yield f"{name} is agreed, but pyproject.toml does not ask for it; take it off the list"


def faults_of_versions(wanted: list[Asked], agreed: Mapping[str, Any]) -> Iterator[str]:
    """Yield requirements without a lower bound, and those that allow a version known to be bad."""
    ours = {**agreed["runtime"], **agreed["optional"]}
    for one in wanted:
        lower = [s.version for s in one.requirement.specifier if s.operator in LOWER]
        if not lower:
            yield f"{one.name} ({one.where}) has no lower bound"
        for bad in agreed["known_bad"]:
            if (
                bad["package"] == one.name
                and one.name in ours
                and lower
                and lower[0] in SpecifierSet(bad["versions"])
            ):
                yield f"{one.requirement} allows {bad['versions']}: {bad['why']}"


def installed(wanted: list[Asked]) -> dict[str, importlib.metadata.Distribution]:
    """Return what is installed of the requirements and of all that comes with them, by name."""
    found: dict[str, importlib.metadata.Distribution] = {}
    left = [(one.requirement.name, frozenset(one.requirement.extras)) for one in wanted]
    while left:
        name, extras = left.pop()
        if normal(name) in found:
            continue
        try:
            there = found[normal(name)] = importlib.metadata.distribution(name)
        except importlib.metadata.PackageNotFoundError:
            continue
        for text in there.requires or []:
            more = Requirement(text)
            if more.marker is None or any(more.marker.evaluate({"extra": e}) for e in extras or {""}):
                left.append((more.name, frozenset(more.extras)))
    return found


def licence(there: importlib.metadata.Distribution) -> str:
    """Return what a package says of its licence, on one line."""
    meta = there.metadata
    told = [meta.get("License-Expression") or "", (meta.get("License") or "").split("\n")[0][:60]]
    told += [c.split("::")[-1].strip() for c in meta.get_all("Classifier") or [] if c.startswith("License")]
    return "; ".join(dict.fromkeys(part.strip() for part in told if part.strip())) or "not told"


def faults_of_installed(
    found: Mapping[str, importlib.metadata.Distribution], agreed: Mapping[str, Any]
) -> Iterator[str]:
    """Yield licences other than agreed, and installed versions that are known to be bad."""
    wanted = {name: fields["licence"] for name, fields in {**agreed["runtime"], **agreed["optional"]}.items()}
    for name, words in {**wanted, **agreed["development"]}.items():
        if name in found and not re.search(words, licence(found[name])):
            yield f"{name} is under {licence(found[name])}; agreed was {words}"
    for bad in agreed["known_bad"]:
        there = found.get(bad["package"])
        if there and SpecifierSet(bad["versions"]).contains(there.version, prereleases=True):
            yield f"{bad['package']} {there.version} is installed: {bad['why']}"


def newer(found: Mapping[str, importlib.metadata.Distribution], agreed: Mapping[str, Any]) -> Iterator[str]:
    """Yield packages whose major version is newer than any that the tests have run with."""
    for name, fields in {**agreed["runtime"], **agreed["optional"]}.items():
        if name in found and Version(found[name].version).major > fields["tried"]:
            yield f"{name} {found[name].version} is newer than what was tried ({fields['tried']})"


def judged(told: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Return the advisories met and the packages not compared, from what pip-audit prints as JSON."""
    met, skipped = [], []
    for one in told["dependencies"]:
        if "skip_reason" in one or "vulns" not in one:
            skipped.append(str(one["name"]))
        met += [f"{one['name']} {one['version']}: {vuln['id']}" for vuln in one.get("vulns", [])]
    return met, skipped


def advisories(found: Mapping[str, importlib.metadata.Distribution], runtime: set[str]) -> int:
    """Compare installed versions with published advisories; return the exit code."""
    pins = "".join(f"{name}=={there.version}\n" for name, there in sorted(found.items()) if name in runtime)
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "installed.txt"
            path.write_text(pins, encoding="utf-8")
            command = [sys.executable, "-m", "pip_audit", "-r", str(path), "--no-deps", "--disable-pip"]
            done = subprocess.run([*command, "-f", "json"], capture_output=True, text=True, timeout=300)
        met, skipped = judged(json.loads(done.stdout))
    except (subprocess.TimeoutExpired, ValueError, KeyError, TypeError):
        print("ADVISORIES NOT REACHED: nothing was compared with published advisories")
        return NOT_REACHED
    for one in met:
        print(f"advisory: {one}")
    if skipped:
        print(f"ADVISORIES NOT REACHED for {len(skipped)} of {len(pins.splitlines())}: {', '.join(skipped)}")
    if not met and not skipped:
        print(f"{len(pins.splitlines())} installed versions: no published advisory")
    return 1 if met else NOT_REACHED if skipped else 0


def main() -> None:
    """Audit, print, and end with the code that tells."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--advisories", action="store_true")
    options = parser.parse_args()
    agreement = agreed()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = asked(project)
    shipped = installed([one for one in wanted if one.where in ("runtime", "postgres", "parquet")])
    everything = {**installed(wanted), **shipped}
    for name, there in sorted(shipped.items()):
        print(f"{name:<20} {there.version:<12} {licence(there)}")
    faults = [
        *faults_of_names(wanted, imported(ROOT / "trainer"), agreement),
        *faults_of_versions(wanted, agreement),
        *faults_of_installed(everything, agreement),
    ]
    for note in newer(everything, agreement):
        print(f"note: {note}")
    for fault in faults:
        print(f"FAULT: {fault}")
    code = advisories(everything, set(shipped)) if options.advisories else 0
    raise SystemExit(1 if faults else code)


if __name__ == "__main__":
    main()
