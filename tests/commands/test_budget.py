"""`tenthwise budget`: published examples from files, reading components from the archive, bad files."""

import json
import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from pypdf import PdfReader

from tests.reports.simulated import answers, put_into
from trainer.commands import budget_file
from trainer.commands.budget import shipped_files
from trainer.commands.main import main
from trainer.records.archive import Archive

BUDGETS = Path(__file__).with_name("budgets")


def run(capsys, *arguments):
    code = main(["budget", *map(str, arguments)])
    said = capsys.readouterr()
    return code, said.out, said.err


def result(capsys, *arguments):
    code, out, err = run(capsys, *arguments, "--json")
    assert code == 0, err
    return json.loads(out)


def test_gum_h1_gives_the_printed_values(capsys):
    # JCGM 100:2008, H.1 (values: REFERENCE-VALUES 5.2): l = 50 000 838 nm, u = 32 nm (31.6639 unrounded),
    # effective degrees of freedom 16.752, cut to 16, t = 2.92, U99 = 93 nm printed (92.48 unrounded)
    budget = result(capsys, BUDGETS / "gum-h1.toml")["budget"]
    assert budget["estimate"] == pytest.approx(50_000_838, abs=0.5)
    assert budget["u"] == pytest.approx(31.6639, abs=5e-5)
    assert round(budget["u"]) == 32
    assert budget["df"] == pytest.approx(16.752, abs=5e-4)
    assert budget["df_used"] == 16
    assert budget["k"] == pytest.approx(2.92078, abs=5e-6)
    assert budget["expanded"] == pytest.approx(92.48, abs=0.005)
    parts = {line["name"]: line["contribution"] for line in budget["lines"]}
    assert parts["l_S"] == pytest.approx(25)
    assert parts["delta_theta"] == pytest.approx(16.599, abs=5e-4)
    assert parts["delta_alpha"] == pytest.approx(2.88679, abs=5e-6)
    assert [parts[name] for name in ("alpha_S", "theta_mean", "theta_cyclic")] == [0, 0, 0]


def test_gum_h1_with_second_order_terms(capsys):
    # JCGM 100:2008, H.1.7: u = 34 nm (33.807 unrounded, REFERENCE-VALUES 5.2)
    budget = result(capsys, BUDGETS / "gum-h1.toml", "--second-order")["budget"]
    assert budget["u"] == pytest.approx(33.807, abs=5e-4)


def test_the_gauge_block_of_jcgm_101_by_chance(capsys):
    # JCGM 101:2008, 9.5: 838 nm, u = 36 nm, shortest 99 % interval [745, 932] nm; by 4e6 trials 837.99,
    # 35.82, [744.2, 931.5] (REFERENCE-VALUES 5.3). Tolerances: 4 standard errors of such a run.
    made = result(capsys, BUDGETS / "jcgm101-gauge-block.toml")
    chance = made["monte_carlo"]
    assert chance["settled"]
    trials = chance["trials"]
    assert chance["estimate"] == pytest.approx(837.99, abs=4 * 36 / math.sqrt(trials))
    assert chance["u"] == pytest.approx(35.82, abs=4 * 36 / math.sqrt(trials))
    assert chance["shortest"] == pytest.approx([744.2, 931.5], abs=3)
    assert made["agreement"]["agrees"] is False  # 9.5.4: the first-order interval is too narrow
    assert made["budget"]["u"] == pytest.approx(32, abs=0.5)  # 9.5.4, first order


@pytest.mark.parametrize("name", sorted(shipped_files()))
def test_shipped_budgets_work_and_their_methods_agree(capsys, name):
    made = result(capsys, name)
    assert made["agreement"]["agrees"] is True
    code, out, _ = run(capsys, name)
    assert code == 0
    assert "own procedures" in out
    shares = [line["share"] for line in made["budget"]["lines"]]
    assert sum(shares) == pytest.approx(1)


def test_shipped_budgets_are_the_two_promised():
    assert set(shipped_files()) == {"shaft", "micrometer-calibration"}


@pytest.mark.parametrize("ending", [".png", ".pdf"])
def test_the_figure_is_written_whole(capsys, tmp_path, ending):
    out = tmp_path / f"b{ending}"
    assert run(capsys, "shaft", "--figure", out)[0] == 0
    if ending == ".pdf":
        text = PdfReader(out).pages[0].extract_text()
        assert "instrument" in text
        assert "combined" in text
    else:
        assert out.read_bytes().startswith(b"\x89PNG")
    code, _, told = run(capsys, "shaft", "--figure", tmp_path / "b.gif")
    assert code == 1
    assert "the name must end in .png or .pdf" in told


SOUND = """title = "t"
measurand = "y"
unit = "um"
model = "a + b * s"

[terms]
s = "a / 10"

[inputs.a]
value = 10
u = 0.5

[inputs.b]
value = 1
distribution = "rectangular"
half_width = 0.2
"""


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ('model = "a + b * s"', 'model = "a + q * s"', 4, '"q", which is no input or term'),
        ('model = "a + b * s"', 'model = "a +* s"', 4, "is not a formula"),
        ("u = 0.5", "u = -0.5", 11, "u = -0.5; it cannot be negative"),
        ("u = 0.5", 'u = "half"', 11, "a number is needed"),
        ("u = 0.5", "v = 0.5", 11, 'unknown field "v"'),
        ("u = 0.5", "", 9, "has no u"),
        ('s = "a / 10"', 's = "s2"\ns2 = "s"', 7, "round in a circle: s -> s2 -> s"),
        ('"rectangular"', '"round"', 15, 'distribution "round"'),
        ('unit = "um"', 'unit = "um"\nunits = 3', 4, 'unknown entry "units"'),
        ("value = 1\n", "value = 1\nvalue = 2\n", 15, "not valid TOML"),
        ("[inputs.b]", "[inputs.c]\nvalue = 1\nu = 1\n[inputs.b]", 13, "c is defined but not used"),
        ("half_width = 0.2", "half_width = 0.2\n[[correlations]]\nbetween = ['a', 'z']\nr = 0.5", 18, '"z"'),
        (
            "half_width = 0.2",
            "half_width = 0.2\n[[correlations]]\nbetween = ['a', 'b']\nr = 1.5",
            18,
            "-1 to 1",
        ),
    ],
)
def test_a_fault_is_told_with_its_line(capsys, tmp_path, old, new, line, words):
    file = tmp_path / "b.toml"
    assert old in SOUND
    file.write_text(SOUND.replace(old, new, 1), encoding="utf-8")
    code, out, err = run(capsys, file)
    assert code == 1
    assert out == ""
    assert words in err
    assert f"line {line}" in err, err
    assert "Traceback" not in err


def test_correlations_that_contradict_each_other_are_refused(capsys, tmp_path):
    names = "abc"
    inputs = "".join(f"[inputs.{n}]\nvalue = 1\nu = 1\n" for n in names)
    pairs = ", ".join(
        f'{{between = ["{a}", "{b}"], r = {r}}}'
        for a, b, r in (("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9))
    )
    file = tmp_path / "b.toml"
    file.write_text(f'model = "a + b + c"\ncorrelations = [{pairs}]\n{inputs}', encoding="utf-8")
    code, _, err = run(capsys, file)
    assert code == 1
    assert "line 2" in err
    assert "not positive semi-definite" in err


def test_correlations_count(capsys, tmp_path):
    # JCGM 100:2008, 5.2.2, Note 1: fully correlated contributions add up linearly
    file = tmp_path / "b.toml"
    file.write_text(
        'model = "a + b"\ncorrelations = [{between = ["a", "b"], r = 1.0}]\n'
        "[inputs.a]\nvalue = 1\nu = 0.3\n[inputs.b]\nvalue = 2\nu = 0.4\n",
        encoding="utf-8",
    )
    made = result(capsys, file)
    assert made["budget"]["u"] == pytest.approx(0.7)
    assert made["agreement"]["agrees"] is True


@pytest.mark.parametrize(
    ("content", "words"), [(b"", "no model"), (b"model = \xff", "line 1: this is not UTF-8")]
)
def test_a_file_that_is_no_budget_is_refused(capsys, tmp_path, content, words):
    file = tmp_path / "b.toml"
    file.write_bytes(content)
    code, _, err = run(capsys, file)
    assert code == 1
    assert words in err


def test_unknown_budgets_and_missing_files_are_named(capsys, tmp_path):
    assert "shaft" in run(capsys, "axle")[2]
    assert run(capsys, tmp_path / "none.toml")[0] == 1


READING = """measurand = "x"
unit = "um"
model = "indication + reading"
[inputs.indication]
value = 1500
distribution = "constant"
[inputs.reading]
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    path = tmp_path_factory.mktemp("budgets") / "a.tenthwise"
    chance = np.random.default_rng(5)
    with Archive.open(path) as made:
        for name, bias in (("Ada", 0.3), ("Bo", -0.2), ("Cy", 0.1)):
            put_into(made, answers(chance, name, sessions=4, bias=bias))
    return str(path)


def quoted(capsys, place, *people):
    assert main(["quote", *people, "--archive", place, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_reading_component_comes_from_the_archive(capsys, tmp_path, place):
    file = tmp_path / "b.toml"
    file.write_text(READING + 'from_person = "Ada"\nunit = "um"\n', encoding="utf-8")
    made = result(capsys, file, "--archive", place)
    quote = quoted(capsys, place, "Ada")
    assert made["budget"]["u"] == pytest.approx(quote["u_reading"]["um"])
    assert made["budget"]["df"] == pytest.approx(quote["u_reading"]["df"])
    assert made["budget"]["estimate"] == 1500
    assert made["quotes"]["reading"] == quote
    assert "must be confirmed on a real instrument" in run(capsys, file, "--archive", place)[1]


def test_a_corrected_mean_of_readings_in_inches(capsys, tmp_path, place):
    file = tmp_path / "b.toml"
    more = 'from_person = "Ada"\nunit = "in"\nbias = "corrected"\nreadings = 4\n'
    file.write_text(READING + more, encoding="utf-8")
    budget, quote = result(capsys, file, "--archive", place)["budget"], quoted(capsys, place, "Ada")
    line = next(line for line in budget["lines"] if line["name"] == "reading")
    assert line["value"] == pytest.approx(-quote["bias"]["um"] / 25_400)
    chance = quote["spread"]["um"] ** 2 * quote["random_share"]
    u = math.sqrt(quote["u_reading_corrected"]["um"] ** 2 - chance * (1 - 1 / 4))
    assert line["u"] == pytest.approx(u / 25_400)


@pytest.mark.parametrize("team", ['"everybody"', '["Ada", "Bo", "Cy"]'])
def test_a_reading_by_any_of_a_team(capsys, tmp_path, place, team):
    file = tmp_path / "b.toml"
    file.write_text(
        READING + f'from_team = {team}\ninstrument = "metric"\nunit = "tenth"\n', encoding="utf-8"
    )
    made = result(capsys, file, "--archive", place)
    assert made["budget"]["u"] == pytest.approx(
        quoted(capsys, place, "Ada", "Bo", "Cy")["u_reading"]["tenths"]
    )


@pytest.mark.parametrize(
    ("fields", "line", "words"),
    [
        ('from_person = "Nobody"\nunit = "um"', 7, "no person called 'Nobody'"),
        ('from_person = "Ada"\nunit = "furlong"', 9, "unit = 'furlong'"),
        ('from_person = "Ada"\nunit = "um"\nbias = "gone"', 10, 'write "left in" or "corrected"'),
        ('from_person = "Ada"\nunit = "um"\nreadings = 0', 10, "1 to 1000"),
        ('from_person = "Ada"\nunit = "um"\nu = 3', 10, 'unknown field "u"'),
        ("from_person = 3", 8, "one name in quotes"),
        ("from_team = 3", 8, '"everybody" or a list'),
    ],
)
def test_faults_of_reading_components_have_a_line(capsys, tmp_path, place, fields, line, words):
    file = tmp_path / "b.toml"
    file.write_text(READING + fields + "\n", encoding="utf-8")
    code, _, err = run(capsys, file, "--archive", place)
    assert code == 1
    assert words in err
    assert f"line {line}:" in err, err


@pytest.mark.parametrize("unit", ["um", "\N{MICRO SIGN}m", "\N{GREEK SMALL LETTER MU}m"])
def test_a_micrometre_is_the_same_however_it_is_typed(unit):
    """A division of 10 um has tenths of 1 um."""
    quote = SimpleNamespace(um_per_tenth=1.0)
    assert budget_file._per_tenth("reading", unit, quote) == 1.0
    assert budget_file._per_tenth("reading", "mm", quote) == 0.001
