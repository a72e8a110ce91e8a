"""Every block of every page is taken up by a test: run, read by the program's reader, or worked out again.

A block that none of the tests knows, or that has no language, fails here.
"""

import contextlib
import io
import json
import re
import sqlite3
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from tests.docs import test_developers
from tests.docs.cases import ON_A_SERVER
from tests.docs.snippets import PAGES, ROOT, blocks, is_script, named, prose
from trainer.commands import bench_file, mark_file, people
from trainer.commands.main import main
from trainer.practice import bench as bench_rules
from trainer.practice import plan as plans
from trainer.practice import sheets
from trainer.records import answers_csv
from trainer.records.archive import Archive
from trainer.scoring.table import score_people
from trainer.signoff import criterion as criteria

SAMPLE = ROOT / "sessions" / "recorded" / "pump-shop.sqlite"
DEVELOPERS = "DEVELOPERS.md"
HERE = [(named(page), block) for page in PAGES for block in blocks(page)]


def first_line(block):
    return block.text.partition("\n")[0]


def block_of(page, first):
    """Return the one block of a page that begins with a line."""
    (found,) = [block for where, block in HERE if where == page and first_line(block) == first]
    return found


def saved(folder, name, text):
    """Write a block into a file; return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def told(capsys, *words):
    """Run a command that prints JSON; return what it told."""
    capsys.readouterr()
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def a_plan(text, folder, capsys):
    read = plans.load(saved(folder, "my-plan.toml", text))
    assert (read.drill, read.instrument, read.items, read.seconds_each) == ("full-reading", "metric", 10, 8)
    assert "Five lines are enough" in prose(ROOT / "sessions" / "plans" / "README.md")
    assert len(text.splitlines()) == 5


def a_budget(text, folder, capsys):
    """By hand: reading 0.7 µm, zero 0.5 µm, certificate 2 µm at k = 2; nought comes of no difference."""
    u = told(capsys, "budget", str(saved(folder, "length.toml", text)))["budget"]["u"]
    assert u == pytest.approx(np.sqrt(0.0007**2 + 0.0005**2 + 0.001**2 + (12.3456 * 11.5e-6) ** 2 / 3))


def a_budget_by_name(text, folder, capsys):
    """With Inspector 1 of the sample as Kim: the reading's uncertainty is that of the quote, in mm."""
    path = saved(folder, "diameter.toml", text.replace('"Kim"       #', '"Inspector 1" #'))
    quoted = told(capsys, "quote", "Inspector 1", "--archive", str(SAMPLE))
    found = told(capsys, "budget", str(path), "--archive", str(SAMPLE))
    (reading,) = [one for one in found["budget"]["lines"] if one["name"] == "reading"]
    assert reading["u"] == pytest.approx(quoted["u_reading"]["tenths"] / 1000)
    other = path.read_text(encoding="utf-8").replace('from_person = "Inspector 1"', 'from_team = "everybody"')
    assert main(["budget", str(saved(folder, "team.toml", other)), "--archive", str(SAMPLE)]) == 0


def a_criterion(text, folder, capsys):
    read = criteria.load(saved(folder, "half.toml", text))
    assert (read.bias_tenths, read.spread_tenths, read.misread_rate) == (0.4, 0.9, 0.05)
    assert (read.plan, read.scope.unit, read.readings_at_most) == ("check-metric", "mm", 260)


def answers(text, folder, capsys):
    """The block is how the sample's export begins, to the letter; it is read, and taken in."""
    out = folder / "all.csv"
    assert main(["export", "answers", "--archive", str(SAMPLE), "--out", str(out)]) == 0
    assert out.read_text(encoding="utf-8").startswith(text)
    frame = answers_csv.read(saved(folder, "few.csv", text))
    assert frame["person"].tolist() == ["Inspector 1"] * 2
    assert frame["answer_tenths"].tolist() == [18084.0, 19143.0]
    capsys.readouterr()
    assert main(["import", str(folder / "few.csv"), "--archive", str(folder / "new.sqlite")]) == 0
    assert "2 answers in 1 session" in capsys.readouterr().out


def a_list(text, folder, capsys):
    assert people._names(saved(folder, "list.txt", text)) == ["Kim Vale", "Ana Ruiz"]


def a_bench(text, folder, capsys):
    reference = bench_rules.Reference("display", Decimal("0.0001"), Decimal(0))
    start = bench_rules.start("metric", reference, 100, 0.0)
    pairs, events = bench_file.events(start, saved(folder, "bench.csv", text), lambda: "2026-03-02T09:00:00Z")
    for event in events:
        start = bench_rules.step(start, event)
    assert (pairs, len(start.zeros_tenths)) == (2, 5)


def a_class(text, folder, capsys):
    number = sheets.make("metric", 12, np.random.default_rng(11)).number
    (one,) = mark_file.class_answers(saved(folder, "class.csv", text.replace("K7M-P3XY", number)))
    assert (one.number, one.person, dict(one.texts)) == (number, "Kim Vale", {1: "7.384", 2: ""})


def a_query(text, folder, capsys):
    """With SQLite alone, against what the archive itself gives. On a server it is asked in tests/records."""
    with contextlib.closing(sqlite3.connect(f"file:{SAMPLE}?mode=ro", uri=True)) as connection:
        given = connection.execute(text).fetchall()
    with Archive.open(SAMPLE, create=False) as archive:
        frame = archive.answers(drill="full-reading", for_record=True)
    frame = frame[frame["outcome"] == "answered"]
    errors = frame["answer_tenths"] - frame["truth_tenths"]
    by_hand = errors.groupby(frame["person"]).agg(["count", "mean"])
    assert [row[:2] for row in given] == list(zip(by_hand.index, by_hand["count"], strict=True))
    assert [row[2] for row in given] == pytest.approx(by_hand["mean"].tolist())


def a_walk(text, folder, capsys):
    """The page's walk along the chains finds the heads that `archive check` finds, and a change."""
    heads = told(capsys, "archive", "check", "--archive", str(SAMPLE))["heads"]
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.chdir(ROOT):
        exec(compile(text, "files.md", "exec"), {})
    assert dict(line.split() for line in said.getvalue().splitlines()) == {
        c: h["hash"] for c, h in heads.items()
    }
    copy = folder / "copy.sqlite"
    copy.write_bytes(SAMPLE.read_bytes())
    with contextlib.closing(sqlite3.connect(copy)) as connection:
        connection.execute("UPDATE acts SET at = '2020-01-01T00:00:00Z' WHERE seq = 5")
        connection.commit()
    with pytest.raises(AssertionError, match="changed"):
        exec(compile(text.replace("sessions/recorded/pump-shop.sqlite", str(copy)), "files.md", "exec"), {})


READ = {  # page, first line: what is done with the block
    ("sessions/plans/README.md", 'title = "Ten quick readings"'): a_plan,
    ("docs/methods/uncertainty.md", 'measurand = "length"'): a_budget,
    ("docs/methods/quoting.md", 'measurand = "diameter"'): a_budget_by_name,
    ("docs/files.md", 'title = "Readings to half a tenth, metric"'): a_criterion,
    ("docs/files.md", "# tenthwise answers, format 1"): answers,
    ("docs/files.md", "# the bench by the window"): a_list,
    ("docs/files.md", "estimate,reference"): a_bench,
    ("docs/files.md", "sheet,person,item,answer"): a_class,
    ("docs/files.md", "SELECT people.name, count(*) AS readings,"): a_query,
    ("docs/files.md", "import hashlib, json, sqlite3"): a_walk,
}

FORMULAS = {  # page, first line: the test that works it out again, by another road than the program's
    ("docs/methods/judgement.md", "lapse + (1 − 2 lapse) Φ((x − threshold)/width)"): (
        "tests/scoring/test_judgement.py", "test_chance_of_saying_beyond_is_the_curve",
    ),
    ("docs/methods/quoting.md", "u, bias left in   = √(s_R² + b̄²)"): (
        "tests/docs/test_written.py", "test_the_uncertainty_of_a_team_is_its_formula",
    ),
    ("docs/methods/scoring.md", "exp(ln(c s²) ∓ z se)"): (
        "tests/scoring/test_intervals.py", "test_bonett_is_its_formula",
    ),
    ("docs/methods/scoring.md", "var(s²) = s⁴ (g4 − (n − 3)/n)/(n − 1)"): (
        "tests/docs/test_written.py", "test_the_degrees_of_freedom_are_their_formulas",
    ),
    ("docs/methods/scoring.md", "z = (N − Σ P_i)/√(Σ P_i (1 − P_i))"): (
        "tests/scoring/test_habits.py", "test_the_statistic_is_its_definition_for_a_known_reader",
    ),
}  # fmt: skip
SKETCH = (
    "docs/design.md",
    "plan (TOML) -> deal(plan, instrument, chance) -> items -> step(session, event) -> session",
)


@pytest.mark.parametrize("key", READ, ids=lambda key: f"{key[0]}: {key[1][:24]}")
def test_a_block_is_read(key, tmp_path, capsys):
    READ[key](block_of(*key).text, tmp_path, capsys)


def test_the_degrees_of_freedom_are_their_formulas(chance):
    n = 80
    truth = 1000.0 * np.arange(1, n + 1) % 24000 + np.tile(np.arange(10), n // 10) + chance.uniform(0, 1, n)
    answer = np.round(truth + 0.4 + 0.6 * chance.standard_t(6, n))
    d = answer - truth
    (score,) = score_people(
        answers_csv.pd.DataFrame({"person": "Kim", "truth_tenths": truth, "answer_tenths": answer})
    ).people
    assert score.misreads.total == 0
    m = stats.trim_mean(d, 1 / (2 * np.sqrt(n - 4)))
    s2, g4 = d.var(ddof=1), n * ((d - m) ** 4).sum() / ((d - d.mean()) ** 2).sum() ** 2
    var_s2 = s2**2 * (g4 - (n - 3) / n) / (n - 1)
    assert score.u_reading.corrected_df == pytest.approx(2 * s2**2 / var_s2, rel=0.02)
    m3 = ((d - d.mean()) ** 3).mean()
    var_u2 = var_s2 + 4 * d.mean() ** 2 * s2 / n + 4 * d.mean() * m3 / n
    assert score.u_reading.df == pytest.approx(2 * (s2 + d.mean() ** 2) ** 2 / var_u2, rel=1e-6)


def test_the_uncertainty_of_a_team_is_its_formula(capsys):
    """From the sample's own answers, by hand; spreads and biases are compared on the way."""
    quote = told(capsys, "quote", "--team", "--instrument", "metric", "--archive", str(SAMPLE))
    biases = [
        told(capsys, "quote", one, "--archive", str(SAMPLE))["bias"]["tenths"] for one in quote["people"]
    ]
    mean, u_mean = np.mean(biases), np.std(biases, ddof=1) / np.sqrt(len(biases))
    s_r = quote["spread"]["tenths"]
    assert quote["bias"]["tenths"] == pytest.approx(mean)
    assert quote["u_reading"]["tenths"] == pytest.approx(np.hypot(s_r, mean))
    assert quote["u_reading_corrected"]["tenths"] == pytest.approx(np.hypot(s_r, u_mean))


@pytest.mark.parametrize("key", FORMULAS, ids=lambda key: f"{key[0]}: {key[1][:24]}")
def test_a_formula_is_worked_out_by_a_test(key):
    place, name = FORMULAS[key]
    assert f"\ndef {name}(" in (ROOT / place).read_text(encoding="utf-8")


def taken_up(page, block):
    """Return which test takes a block up, or nothing."""
    if block.language == "console":
        return "test_developers" if page == DEVELOPERS else "test_snippets"
    if block.language == "sh":
        if page == ON_A_SERVER:
            return "tests/records/test_docs_on_a_server"
        return "test_elsewhere" if is_script(block) else "test_typed_lines"
    worked = [text for example in test_developers.EXAMPLES.values() for _, text in example]
    if page == DEVELOPERS and block.text in worked:
        return "test_developers"
    key = (page, first_line(block))
    if key in READ or key == SKETCH:
        return "test_written"
    return FORMULAS[key][0] if block.language == "formula" and key in FORMULAS else ""


def test_every_block_is_taken_up():
    assert len(HERE) > 50
    left = {str(block): block.language for page, block in HERE if not taken_up(page, block)}
    assert left == {}, "name the test that runs or reads it"
    firsts = {(page, first_line(block)) for page, block in HERE}
    assert {*READ, *FORMULAS, SKETCH} - firsts == set(), "the docs have it no longer"


def test_no_block_is_hidden_by_being_indented():
    inside = re.compile(r"^(?: {4}|\t)(?! *(?:[-*]|\d+\.) )\S.*", re.MULTILINE)
    assert {named(page): found for page in PAGES if (found := inside.findall(prose(page)))} == {}


def test_a_block_that_is_new_is_seen(tmp_path):
    page = tmp_path / "new.md"
    page.write_text("Text\n\n```\nwhat is this\n```\n\n```toml\na = 1\n```\n", encoding="utf-8")
    assert [taken_up("new.md", block) for block in blocks(page)] == ["", ""]


FORMULA_SIGNS = re.compile(r"[√Σ∓Φ]|\^\(|[²⁴]|```formula")
SOURCE = re.compile(
    r"\b(?:18|19|20)\d\d\b|JCGM|GUM|ISO \d|RFC|IEC|NIST|[Oo]ur own|[Oo]urs\b|common practice|from memory"
    r"|similar triangles|identity"
)


@pytest.mark.parametrize("page", sorted((ROOT / "docs" / "methods").glob("*.md")), ids=lambda page: page.stem)
def test_every_section_with_a_formula_names_a_source(page):
    """A publication with its year, a standard, or that it is our own, common practice, or mere algebra."""
    sections = re.split(r"^(?=#{2,3} )", page.read_text(encoding="utf-8"), flags=re.MULTILINE)
    without = [
        part.splitlines()[0] for part in sections if FORMULA_SIGNS.search(part) and not SOURCE.search(part)
    ]
    assert without == []
