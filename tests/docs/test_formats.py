"""Every format field by field: the tables of the docs against what the program writes and reads."""

import dataclasses
import hashlib
import json
import re
import secrets
import sqlite3
import zipfile
from collections import Counter
from contextlib import closing

import pytest
import typer.main

from tests.commands.laboratory import RUTH
from tests.docs import make_columns, make_json, prepared
from tests.docs.snippets import ROOT, prose
from trainer.commands import (
    archive,
    bench_file,
    budget_file,
    import_map,
    mark_file,
    passphrases,
    people,
    permits,
    sheet_keys,
    verify,
)
from trainer.commands.budget_file import READING_FIELDS
from trainer.commands.main import app, main
from trainer.desktop.settings import Display, Settings
from trainer.drawing.viewing import Viewing
from trainer.practice import plan
from trainer.practice.kinds import DRILLS, SETTINGS
from trainer.practice.plan import TYPES
from trainer.records import accounts, answers_csv, answers_in
from trainer.records.archive import Archive
from trainer.records.foreign_map import UNITS
from trainer.scoring.budget import KEYS
from trainer.scoring.component import FIELDS as INPUT
from trainer.scoring.component import NEEDS
from trainer.scoring.component import TEXTS as INPUT_TEXTS
from trainer.signoff import criterion, keys, statement
from trainer.signoff.criterion import FIELDS as CRITERION
from trainer.signoff.evidence import Refused

FILES = "docs/files.md"
BEN = "Ben Olt"
NOT_LIVED = {
    "person-archived",
    "person-restored",
    "person-pseudonymised",
    "setting",
    "archive-upgraded",
    "clock-set-back",
}
WORD = re.compile(r"`([^`]+)`")


def table(page, heading, nth=0):
    """Return the rows of a page's table, the n-th below a heading, as lists of cells."""
    text = prose(ROOT / page)
    part = text[text.index(f"\n{heading}\n") :]
    tables = re.findall(r"(?:^\|.*\n)+", part, flags=re.MULTILINE)
    rows = [line.strip().strip("|") for line in tables[nth].splitlines()][2:]
    return [[cell.strip() for cell in re.split(r"(?<!\\)\|", row)] for row in rows]


def named(cell):
    """Return what stands in backticks in a cell."""
    return WORD.findall(cell)


@pytest.fixture(scope="module")
def lived(tmp_path_factory):
    """Give a laboratory in which everything was done that leaves an act or a document behind."""
    with pytest.MonkeyPatch.context() as patch:
        lab = prepared.furnish(patch, tmp_path_factory.mktemp("formats"))
        lab.done("signoff", "keys", "add", BEN, by=RUTH)
        number = lab.done("signoff", "list").split()[0]
        lab.done("signoff", "standing", number, "suspend", "--reason", "new glasses", by=RUTH)
        lab.done("signoff", "attempt", prepared.FAILED, "--reason", "practised", by=RUTH)
        lab.done("signoff", "keys", "revoke", BEN, "--kind", "left", "--reason", "moved", by=RUTH)
        lab.done("people", "rename", prepared.VALE, "Kim Orme", by=RUTH)
        number = (lab.folder / "sheet.txt").read_text(encoding="utf-8").splitlines()[0]
        lab.done("mark", number, "--person", "Kim", "--answers", "answers.txt")
        lab.done("archive", "backup", "copy.sqlite", by=RUTH)
        lab.done("people", "dossier", "Kim", "--out", "kim.zip", by=RUTH)
        lab.done("import", "class.csv")
        yield lab


def asked(archive, question, *values):
    with closing(sqlite3.connect(f"file:{archive}?mode=ro", uri=True)) as connection:
        return connection.execute(question, values).fetchall()


def test_the_page_of_columns_is_what_the_program_says():
    assert make_columns.PAGE.read_text(encoding="utf-8") == make_columns.page()


def test_the_page_of_json_is_what_the_commands_print():
    assert make_json.PAGE.read_text(encoding="utf-8") == make_json.page()


def test_every_command_that_prints_json_is_on_the_page():
    def those(command, name):
        inner = getattr(command, "commands", {})
        for word, one in inner.items():
            yield from those(one, f"{name} {word}".strip())
        if not inner and any("--json" in one.opts for one in command.params):
            yield name

    told = re.findall(r"^## (.+)$", make_json.PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert sorted([*told, *make_json.ELSEWHERE]) == sorted(those(typer.main.get_command(app()), ""))


def test_every_table_of_an_archive_is_told_column_by_column(lived):
    rows = table(FILES, "## The archive")
    made = {name for (name,) in asked(lived.archive, "SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert {named(row[0])[0] for row in rows} == {name for name in made if not name.startswith("sqlite_")}
    for name, _, columns in rows:
        told = columns
        for stem in ("digit", "tenth", "error"):
            every = ", ".join(f"`{stem}_{n}`" for n in range(10))
            told = told.replace(f"`{stem}_0` to `{stem}_9`", every)
        kept = [row[1] for row in asked(lived.archive, f"PRAGMA table_info({named(name)[0]})")]
        assert named(told) == kept, name


def kinds_of(cell):
    """Return the kinds of acts in a cell, where `-renamed` stands for `person-renamed`."""
    return [f"person{kind}" if kind.startswith("-") else kind for kind in named(cell)]


def test_every_act_is_told_with_its_detail(lived):
    covered = {kind for row in table(FILES, "## The log of acts") for kind in kinds_of(row[0])}
    details = {kind: row[1] for row in table(FILES, "## The log of acts", 1) for kind in kinds_of(row[0])}
    acts = asked(lived.archive, "SELECT kind, detail, digest FROM acts")
    acts += asked(lived.folder / "copy.sqlite", "SELECT kind, detail, digest FROM acts")
    assert {kind for kind, *_ in acts} <= covered
    assert {kind for kind, *_ in acts} > {
        "archive-copied",
        "person-renamed",
        "session-imported",
        "sheet-marked",
    }
    bare = set(kinds_of(table(FILES, "## The log of acts")[-1][0]))
    for kind, detail, digest in acts:
        assert (digest is None) is (kind in bare), kind
        found = json.loads(detail) if detail else {}
        if kind not in details:
            assert not found, (kind, found)
            continue
        told = details[kind]
        if kind == "export":  # exports, and the bundle of one person
            told = told.partition(";")[2 if found.get("what") == "dossier" else 0]
        assert set(found) == set(named(told)), (kind, found)
    assert set(details) - {kind for kind, *_ in acts} == NOT_LIVED


def covered(connection, act):
    """Return the object that an act's digest covers, by the page's table alone; None where it is none."""

    def rows(question, *values):
        return [dict(row) for row in connection.execute(question, values)]

    def some(row, *names):
        return {name: row[name] for name in names}

    def dealt(numbers):
        all_items = rows("SELECT * FROM items WHERE session = ? ORDER BY number", session)
        fields = ("number", "position_tenths", "asks", "extra")
        return [[row[name] for name in fields] for row in all_items if row["number"] in numbers]

    def begun(numbers):
        (row,) = rows("SELECT * FROM sessions WHERE id = ?", session)
        return {**dict(list(row.items())[1:13]), "items": dealt(numbers)}

    kind, detail, place = act["kind"], json.loads(act["detail"] or "{}"), (act["chain"], act["seq"])
    session = act["session"] or "{}-{}".format(*place)  # a session is named by the act that made it
    if kind in ("archive-made", "archive-copied"):
        (row,) = rows("SELECT * FROM tenthwise_archive")
        return some(row, "archive_id", "home_chain", "made_at")
    if kind.startswith("person-"):
        found = rows("SELECT * FROM people WHERE chain = ? AND seq = ?", *place)
        return some(found[0], "name", "added_at", "archived_at", "salt", "revision") if found else ...
    if kind == "session-begun":
        return begun(detail["items"])
    if kind == "items-dealt":
        return {"items": dealt(detail["items"])}
    if kind == "answer":
        (row,) = rows("SELECT * FROM answers WHERE session = ? AND number = ?", session, act["number"])
        extra = json.loads(row["extra"])
        own = some(row, "typed", "answer_tenths", "outcome", "seconds", "at")
        return own | ({"extra": extra} if extra else {})
    if kind == "session-ended":
        return some(rows("SELECT * FROM sessions WHERE id = ?", session)[0], "ended_at", "ended_how")
    if kind == "session-imported":
        session = detail["session"]
        given = []
        for row in rows("SELECT * FROM answers WHERE session = ? ORDER BY number", session):
            own = [row[name] for name in ("number", "typed", "answer_tenths", "outcome", "seconds", "at")]
            given.append(own + ([row["extra"]] if row["extra"] != "{}" else []))
        numbers = {row["number"] for row in rows("SELECT number FROM items WHERE session = ?", session)}
        return {"session": hashlib.sha256(canonical(begun(numbers))).hexdigest(), "answers": given}
    if kind == "setting":
        return some(rows("SELECT * FROM settings WHERE chain = ? AND seq = ?", *place)[0], "value")
    if kind == "document":
        return some(
            rows("SELECT * FROM documents WHERE chain = ? AND seq = ?", *place)[0], "about", "body", "kind"
        )
    return None


def canonical(value):
    """Return the canonical bytes, by the line of the page."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
    return text.encode("utf-8")


@pytest.mark.parametrize("which", ["lived", "sample"])
def test_every_digest_covers_what_the_page_says(lived, which):
    """With SQL and hashlib alone; of a person only for the last act, since former names are not kept."""
    place = lived.archive if which == "lived" else SAMPLE
    seen = Counter()
    with closing(sqlite3.connect(f"file:{place}?mode=ro", uri=True)) as connection:
        connection.row_factory = sqlite3.Row
        for act in connection.execute("SELECT * FROM acts").fetchall():
            found = covered(connection, act)
            if found is ...:
                continue
            expected = None if found is None else hashlib.sha256(canonical(found)).digest()
            assert act["digest"] == expected, dict(act)
            seen[act["kind"]] += found is not None
    kinds = {"person-added", "session-begun", "answer", "session-ended", "document"}
    more = {
        "lived": {"person-renamed", "session-imported"},
        "sample": {"items-dealt", "setting", "archive-made"},
    }
    assert kinds | more[which] <= {kind for kind, n in seen.items() if n}


def test_every_document_is_told_field_by_field(lived):
    rows = {named(row[0])[0]: row[1:] for row in table(FILES, "## The log of acts", 2)}
    found = {}
    for kind, body in asked(lived.archive, "SELECT kind, body FROM documents"):
        found.setdefault(kind, []).append(json.loads(body))
    assert set(rows) == set(found)
    for kind, (form, told) in rows.items():
        for document in found[kind]:
            if kind == "check-end":
                watch = document.pop("watch")
                assert [*document, "watch", *sorted(watch)] == [*named(told)[:2], *sorted(named(told)[2:])]
                continue
            assert set(document) == {"body", "public", "signature"} | {
                "key": {"own"},
                "statement": {"keys"},
            }.get(kind, set())
            body = document["body"]
            assert body.pop("format") == named(form)[0]
            if kind != "statement":
                inside = {"id", "name"} if kind == "check" else set()
                beside = {"own"} if kind == "key" else {"after_check"} if kind == "attempt" else set()
                assert {*body, *inside} | beside == {*named(told)} | ({"after_check"} & set(body)), kind


def test_the_report_of_a_check_is_told(lived):
    report = json.loads(lived.done("archive", "check", "--json"))
    told = prose(ROOT / FILES).partition("### The report of a check\n")[2].partition("\n## ")[0]
    fields = [*report, *next(iter(report["heads"].values()))]
    assert set(fields) == {word for word in named(told) if re.fullmatch("[a-z_]+", word)}
    (lived.folder / "heads.json").write_text(json.dumps({"heads": report["heads"]}), encoding="utf-8")
    assert "whole" in lived.done("archive", "check", "--since", "heads.json")


def test_every_field_of_a_map_is_told():
    fields, inside = {}, ""
    for cell, told in table(FILES, "## A laboratory's own CSV"):
        words = named(cell)
        inside = words.pop(0).strip("[]") if words[0].startswith("[") else inside
        fields.setdefault(inside.removesuffix(".FIELD"), []).extend(words or named(told))
    wanted = {name: set(known) for name, known in import_map.TABLES.items()}
    assert set(fields) == set(wanted)
    for name in ("file", "values", "sessions"):
        assert set(fields[name]) == wanted[name], name
    for name in ("columns", "constants"):
        assert set(fields[name]) == wanted[name], name
    assert all(f'"{unit}"' in prose(ROOT / FILES) for unit in UNITS)


def test_every_field_of_a_criterion_is_told_with_its_default():
    rows = [(named(row[0])[0], row[2]) for row in table(FILES, "## Criteria")]
    assert [name for name, _ in rows] == [".".join(filter(None, key)) for key in CRITERION]
    for (name, told), (what, default) in zip(rows, CRITERION.values(), strict=True):
        if default is ...:
            assert told == "needed", name
        elif default is None:
            assert told in ("needed for readings", "needed for judging", "no limit"), (name, what)
        elif default == ():
            assert told == "none"
        elif isinstance(default, bool):
            assert told == str(default).lower(), name
        elif isinstance(default, tuple):
            assert told == ", ".join(f'"{one}"' if isinstance(one, str) else f"{one:g}" for one in default), (
                name
            )
        else:
            assert float(told) == default, name


def test_every_field_of_a_plan_is_told():
    rows = table("sessions/plans/README.md", "## A plan of your own")
    fields = [word for row in rows for word in named(row[0])]
    assert sorted(fields) == sorted([*({*TYPES} - {"viewing"}), *SETTINGS, "[viewing]"])
    told = {word: row[1] for row in rows for word in named(row[0])}
    assert sorted(named(told["drill"])) == sorted(DRILLS)
    assert set(named(told["[viewing]"])) == {one.name for one in dataclasses.fields(Viewing)} - {"px_per_mm"}
    for name in SETTINGS:
        row = next(row for row in rows if name in named(row[0]))
        owners = {drill for drill, kind in DRILLS.items() if name in {one.name for one in kind.settings}}
        assert set(named(row[1])) & set(DRILLS) == owners, name


def test_every_field_of_a_budget_is_told():
    page = "docs/methods/uncertainty.md"
    rows = table(page, "## A budget")
    assert [named(row[0])[0] for row in rows] == list(NEEDS)
    for row in rows:
        needs = {"u"} | {"expanded", "k"} if row[0] == "`normal`" else set(NEEDS[named(row[0])[0]])
        assert set(named(row[1])) == needs, row
    said = prose(ROOT / page).partition("\n## A budget\n")[2].partition("\n## ")[0]
    section = (ROOT / page).read_text(encoding="utf-8").partition("\n## A budget\n")[2].partition("\n## ")[0]
    assert {*KEYS, "value", *INPUT_TEXTS} - {"name", "inputs"} <= set(named(said))
    assert {*INPUT} <= set(re.findall(r"\w+", section))
    fields = [word for row in table("docs/methods/quoting.md", "## Budgets") for word in named(row[0])]
    assert sorted(fields) == sorted(READING_FIELDS)


def test_key_files_and_sealed_files_are_told(tmp_path, monkeypatch):
    told = {row[0]: named(row[1]) for row in table(FILES, "## Keys and sealed files")}
    (account, sheets) = told.values()
    made = json.loads(
        keys.locked(keys.new_private_key(secrets.token_bytes), "Ida", "x", random_bytes=secrets.token_bytes)
    )
    assert set(made) == set(account)
    phrase = "lorry pudding violin marble"
    path = tmp_path / "keys.json"
    made_by = [
        "sheet",
        "--instrument",
        "metric",
        "--sheets",
        "1",
        "--out",
        str(tmp_path),
        "--key-file",
        str(path),
    ]
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", phrase)
    monkeypatch.setenv("TENTHWISE_NEW_PASSPHRASE", phrase)
    assert main(made_by) == 0
    sealed = json.loads(path.read_text(encoding="utf-8"))
    inside = ['{"sheets": [...]}', *next(iter(sheet_keys.read(path, phrase).values()))]
    assert [*sealed] == sorted(sealed)
    assert {*sealed, *inside} == set(sheets)
    page = " ".join(prose(ROOT / FILES).split())
    assert f'("{made["format"]}")' in page
    assert f'("{sealed["format"]}")' in page
    assert f'("{sealed["kind"]}")' in page
    settings = re.search(r"`scrypt` holds ([^.]*)\.", page)[1]
    assert set(named(settings)) == set(made["scrypt"]) == set(sealed["scrypt"])


def test_the_bundle_of_one_person_is_told(lived):
    rows = table(FILES, "## The bundle of one person")
    told = [name for row in rows for name in named(row[0])]
    with zipfile.ZipFile(lived.folder / "kim.zip") as bundle:
        names = bundle.namelist()
        assert {re.sub(r"(statements/).*", r"\1", name) for name in names} == set(told)
        assert list(json.loads(bundle.read("person.json"))) == named(rows[1][1])
        log = bundle.read("log.csv").decode().splitlines()[0].split(",")
    assert log == named(rows[3][1])


def test_every_setting_of_a_station_is_told():
    rows = table(FILES, "## Settings of a station")
    assert [name for row in rows for name in named(row[0])] == [
        one.name for one in dataclasses.fields(Settings)
    ]
    assert named(rows[-1][1]) == [one.name for one in dataclasses.fields(Display)]


def test_every_field_of_a_statement_is_told():
    left_out = statement._not_counted([Refused("s-1", "another plan")])  # the sample's have none
    for number in (1, 2):
        path = ROOT / "sessions" / "recorded" / f"inspector-{number}.json"
        body = json.loads(path.read_text(encoding="utf-8"))["body"]
        rows = table("docs/verify-by-hand.md", "## The fields of the body")
        assert sorted(name for row in rows for name in named(row[0])) == sorted(body)
        for row in rows:
            for name in named(row[0]):
                told = set(named(row[1])) - {body["format"]}
                assert told == flat(left_out if name == "not_counted" else body[name]), name


def test_who_may_do_what_is_told_of_every_command_that_asks():
    told = {}
    for commands, who in table("docs/security.md", "## Roles on the command line"):
        for group in commands.split(";"):
            first, *others = named(group)
            names = [first, *(f"{first.split()[0]} {one}" if " " not in one else one for one in others)]
            told |= dict.fromkeys(names, who)
    assert set(told) == set(permits.ASKS)


LARGEST = {  # as the page has it: the constants it is said of
    "64 KiB": (plan.LONGEST_FILE, criterion.LONGEST_FILE, import_map.LARGEST, passphrases.LONGEST),
    "256 KiB": (budget_file.LARGEST,),
    "1 MiB": (accounts.LARGEST_FILE,),
    "4 MiB": (verify.LARGEST_FILE, people.LARGEST, bench_file.LARGEST_FILE),
    "16 MiB": (mark_file.LARGEST_FILE,),
    "64 MiB": (sheet_keys.LARGEST_FILE, archive.LARGEST_HEADS),
    "1 GiB": (answers_csv.LARGEST,),
}


def test_how_long_a_file_may_be_is_told():
    page = " ".join(prose(ROOT / "docs" / "security.md").split())
    (told,) = re.findall(r"no further than such a file can be long: (.*?) A key file", page)
    assert re.findall(r"\d+ [KMG]iB", told) == list(LARGEST)
    for size, constants in LARGEST.items():
        number, unit = size.split()
        assert set(constants) == {int(number) << {"KiB": 10, "MiB": 20, "GiB": 30}[unit]}, size
    assert f"{answers_in.MOST_ROWS // 1_000_000} million lines at most" in told
    assert keys.LARGEST_LOG2_N - keys.SCRYPT_LOG2_N == 1  # "no more than twice the memory and time"


COMPARED = {  # call: what is typed on the sample's answers
    "compare FILE --json": ["compare", "class.csv"],
    "compare FILE A B --json": ["compare", "class.csv", "Inspector 1", "Inspector 2"],
    "compare FILE A --since DATE --json": ["compare", "class.csv", "Inspector 2", "--since", "2026-04-01"],
    "compare FILE --judged TENTHS --json": ["compare", "judged.csv", "--judged", "2"],
}


def flat(value):
    """Return all names in a JSON value."""
    if isinstance(value, dict):
        return set(value).union(*map(flat, value.values()))
    return set().union(*map(flat, value)) if isinstance(value, list) else set()


def test_the_names_that_compare_prints_are_told(lived):
    rows = {
        call: row[1]
        for row in table("docs/methods/comparing.md", "## What `--json` holds")
        for call in named(row[0])
    }
    assert set(rows) == set(COMPARED)
    for call, told in rows.items():
        names = {part for word in named(told) for part in re.findall(r"\w+", word)}
        found = flat(json.loads(lived.done(*COMPARED[call], "--json"))) - {"value", "low", "high"}
        missing = found - names
        assert missing == set(), (call, missing)


def test_an_export_has_the_columns_told(lived, tmp_path):
    with Archive.open(SAMPLE, create=False):
        pass
    for kind in ("answers", "sessions", "people", "statistics", "signoffs", "transfer"):
        out = tmp_path / f"{kind}.csv"
        assert main(["export", kind, "--out", str(out), "--archive", str(SAMPLE)]) == 0
        lines = out.read_text(encoding="utf-8").splitlines()
        head = next(line for line in lines if not line.startswith("#"))
        told = [named(row[0])[0] for row in table("docs/columns.md", f"## {kind}")]
        assert head.split(",") == told


SAMPLE = ROOT / "sessions" / "recorded" / "pump-shop.sqlite"
