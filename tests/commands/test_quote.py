"""`tenthwise quote` as its user runs it; the numbers recomputed from the answers by hand."""

import json
import math

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tests.reports.simulated import answers, put_into
from trainer.commands.evidence import Wanted, gather
from trainer.commands.main import main
from trainer.records.archive import Archive
from trainer.reports.quote import averaged_u, of_person
from trainer.reports.quote_team import satterthwaite_df
from trainer.reports.readings import readings
from trainer.reports.wording import fixed, two_figures
from trainer.scoring.table import score_people

BENCH = {"name": "bench-check", "step": "0.0005", "accuracy": "0.0003"}  # mm: half a tenth, 0.3 tenth


@pytest.fixture(scope="module")
def frame():
    chance = np.random.default_rng(20260101)
    return pd.concat(
        [
            answers(chance, "Ada", sessions=5),
            answers(chance, "Bo", sessions=4, bias=-0.3, sd=0.9, slips=0),
            answers(chance, "Cy", sessions=3, bias=0.5),
            answers(chance, "Inch", sessions=3, instrument="inch"),
            answers(chance, "Few", sessions=2, slips=0),
        ]
    )


@pytest.fixture(scope="module")
def place(frame, tmp_path_factory):
    path = tmp_path_factory.mktemp("quotes") / "a.tenthwise"
    chance = np.random.default_rng(7)
    with Archive.open(path) as made:
        put_into(made, frame)
        put_into(made, answers(chance, "Dee", sessions=4), for_record=False)
        bench = answers(chance, "Eve", sessions=3, drill="bench-check")
        put_into(made, bench, plan=BENCH)
        put_into(made, answers(chance, "Eve", sessions=3, first_day="2026-05-01"))
        put_into(
            made,
            answers(chance, "Paper", sessions=3),
            for_record=False,
            plan={"name": "sheet"},
            px_per_mm=None,
        )
        put_into(made, answers(chance, "Paper", sessions=3, first_day="2026-06-01"), px_per_mm=None)
    return str(path)


def run(capsys, place, *arguments):
    code = main(["quote", *arguments, "--archive", place])
    said = capsys.readouterr()
    return code, said.out, said.err


def by_hand(frame, person):
    """Return errors, without misreads, as a plain array: slips here are a whole graduation."""
    mine = frame[frame["person"] == person]
    errors = (mine["answer_tenths"] - mine["truth_tenths"]).to_numpy()
    return errors[np.abs(errors) <= 5], len(mine)


def test_a_quote_says_what_the_answers_say(capsys, place, frame):
    code, out, _ = run(capsys, place, "Ada", "--json")
    quote = json.loads(out)
    kept, total = by_hand(frame, "Ada")
    bias, spread = kept.mean(), kept.std(ddof=1)
    assert code == 0
    assert quote["readings"] == total
    assert quote["misreads"]["total"] == total - len(kept)
    assert quote["bias"]["tenths"] == pytest.approx(bias, abs=1e-9)
    assert quote["spread"]["tenths"] == pytest.approx(spread, abs=1e-9)
    # JCGM 100:2008, F.2.4.5 (bias left in, as a root sum of squares) and 4.2.3 (mean of n known to s/sqrt n)
    assert quote["u_reading"]["tenths"] == pytest.approx(math.hypot(spread, bias), rel=1e-9)
    corrected = spread * math.sqrt(1 + 1 / len(kept))
    assert quote["u_reading_corrected"]["tenths"] == pytest.approx(corrected, rel=1e-9)
    assert quote["u_reading"]["um"] == quote["u_reading"]["tenths"]  # a tenth of 0.01 mm is 1 um
    in_inches = quote["u_reading"]["um"] / 2.54  # 1 in = 25.4 mm exactly
    assert quote["u_reading"]["ten_thousandths_in"] == pytest.approx(in_inches, rel=1e-12)
    assert quote["sessions"] == 5
    assert (quote["first_day"], quote["last_day"]) == ("2026-03-01", "2026-03-05")


def test_an_inch_quote_is_in_ten_thousandths(capsys, place):
    quote = json.loads(run(capsys, place, "Inch", "--json")[1])
    assert quote["spread"]["ten_thousandths_in"] == pytest.approx(quote["spread"]["tenths"], rel=1e-12)
    assert quote["spread"]["um"] == pytest.approx(2.54 * quote["spread"]["tenths"], rel=1e-12)


def test_text_and_markdown_hold_paragraph_table_and_cautions(capsys, place):
    quote = json.loads(run(capsys, place, "Ada", "--json")[1])
    text = " ".join(run(capsys, place, "Ada")[1].split())
    markdown = run(capsys, place, "Ada", "--format", "markdown")[1]
    u = quote["u_reading"]
    inches = two_figures(u["ten_thousandths_in"] / 10_000)
    wanted = f"{fixed(u['tenths'])} tenth ({two_figures(u['um'])} µm, {inches} in, "
    for form in (text, markdown):
        assert wanted in form
        assert "is not to be added again" in form
        assert "must be confirmed on a real instrument" in form
        assert "not accredited" in form
        assert "JCGM 100:2008" in form
    assert f"| bias | {fixed(quote['bias']['tenths'], sign=True)} |" in markdown


def test_every_number_of_the_spreadsheet_is_that_of_the_json(capsys, place, tmp_path):
    quote = json.loads(run(capsys, place, "Ada", "--json")[1])
    out = tmp_path / "q.xlsx"
    assert run(capsys, place, "Ada", "--out", str(out))[0] == 0
    book = openpyxl.load_workbook(out)
    rows = list(book["quote"].iter_rows(values_only=True))
    named = {row[0]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
    keys = {
        "bias": "bias",
        "spread": "spread",
        "u of one reading, bias left in": "u_reading",
        "u of one reading, bias corrected": "u_reading_corrected",
    }
    assert set(named) == set(keys)
    for name, key in keys.items():
        for column, value in quote[key].items():
            assert named[name][column] == value, (name, column)  # exact: all digits are kept
    facts = dict(row[:2] for row in book["evidence"].iter_rows(min_row=2, values_only=True))
    assert facts["readings"] == quote["readings"]
    assert facts["misread rate, high"] == quote["misreads"]["high"]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["Few"], "Few has 40 usable readings on metric; a quote needs 50: take 10 more"),
        (["Dee"], "80 of practice do not count: take a check, or add --practice"),
        (["Nobody"], "no person called 'Nobody'"),
        (["Ada", "--instrument", "sextant"], "there is no instrument 'sextant'"),
        (["Ada", "--instrument", "inch"], "Ada has no whole readings on inch"),
        (["Ada", "--from", "bench"], "Ada has no bench readings on metric; there are 100 on screen"),
        (["Ada", "--since", "next week"], "--since is 'next week'; type a date such as 2026-03-31"),
        (["--team"], "the people of the archive read inch, metric; name one by --instrument"),
        (["--team", "--signed-off", "--instrument", "metric"], "nobody's sign-off on metric is in force"),
        (["Ada", "Inch"], "read different instruments (inch, metric)"),
    ],
)
def test_what_cannot_be_quoted_is_refused_in_a_sentence(capsys, place, arguments, sentence):
    code, out, err = run(capsys, place, *arguments)
    assert code == 1
    assert out == ""
    assert sentence in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["Ada", "--team"],
        ["Ada", "--signed-off"],
        ["Ada", "--format", "tablet"],
        ["Ada", "--format", "xlsx"],
    ],
)
def test_wrong_usage_exits_with_2(capsys, place, arguments):
    assert run(capsys, place, *arguments)[0] == 2


def test_a_provisional_quote_says_so(capsys, place):
    code, out, _ = run(capsys, place, "Few", "--provisional")
    assert code == 0
    assert "Provisional: 40 usable readings are fewer than 50." in out


def test_practice_counts_only_when_asked_for(capsys, place):
    quote = json.loads(run(capsys, place, "Dee", "--practice", "--json")[1])
    assert quote["readings"] == 80
    assert "practice" in quote["conditions"]


def test_since_leaves_older_sessions_out(capsys, place):
    quote = json.loads(run(capsys, place, "Ada", "--since", "2026-03-03", "--provisional", "--json")[1])
    assert quote["sessions"] == 3
    assert quote["first_day"] == "2026-03-03"


def test_the_bench_goes_before_the_screen_and_its_reference_is_accounted_for(capsys, place):
    bench = json.loads(run(capsys, place, "Eve", "--json")[1])
    assert bench["setting"] == "bench"
    assert any("60 on screen" in note for note in bench["notes"])
    with Archive.open(place, create=False) as opened:
        score = gather(opened, "Eve", Wanted(setting="bench")).score
    # half a tenth of resolution out of the spread (F.2.2.1), 0.3 tenth of accuracy into both (4.3.7)
    observed = score.spread_tenths.value
    assert bench["spread"]["tenths"] == pytest.approx(math.sqrt(observed**2 - 0.5**2 / 12), rel=1e-9)
    parts = (bench["spread"]["tenths"], bench["bias"]["tenths"], 0.3 / math.sqrt(3))
    assert bench["u_reading"]["tenths"] == pytest.approx(math.hypot(*parts), rel=1e-9)
    screen = json.loads(run(capsys, place, "Eve", "--from", "screen", "--json")[1])
    assert screen["setting"] == "screen"
    assert screen["first_day"] == "2026-05-01"


def test_printed_sheets_are_told_from_screens(capsys, place):
    quote = json.loads(run(capsys, place, "Paper", "--json")[1])
    assert quote["setting"] == "sheet"
    assert quote["last_day"] == "2026-03-03"
    assert "printed pictures" in run(capsys, place, "Paper")[1].replace("\n", " ")
    assert (
        json.loads(run(capsys, place, "Paper", "--from", "screen", "--json")[1])["first_day"] == "2026-06-01"
    )


def test_a_team_has_the_spread_within_and_between(capsys, place, frame):
    quote = json.loads(run(capsys, place, "Ada", "Bo", "Cy", "--json")[1])
    groups = [by_hand(frame, name)[0] for name in ("Ada", "Bo", "Cy")]
    # ISO 5725-2:1994, 7.4.5: pooled variance within, and between from the means
    n = np.array([len(g) for g in groups])
    within = sum(g.var(ddof=1) * (len(g) - 1) for g in groups) / (n.sum() - 3)
    mean = sum(g.sum() for g in groups) / n.sum()
    of_means = sum(len(g) * (g.mean() - mean) ** 2 for g in groups) / 2
    usual = (n.sum() - (n**2).sum() / n.sum()) / 2
    between = max(0.0, (of_means - within) / usual)
    assert quote["within"]["tenths"] == pytest.approx(math.sqrt(within), rel=1e-9)
    assert quote["between"]["tenths"] == pytest.approx(math.sqrt(between), rel=1e-9)
    assert quote["spread"]["tenths"] == pytest.approx(math.sqrt(within + between), rel=1e-9)
    biases = np.array([g.mean() for g in groups])
    assert quote["bias"]["tenths"] == pytest.approx(biases.mean(), rel=1e-9)
    u = math.hypot(quote["spread"]["tenths"], biases.mean())
    assert quote["u_reading"]["tenths"] == pytest.approx(u, rel=1e-9)


def test_everybody_with_enough_readings_is_a_team_and_the_rest_is_named(capsys, place):
    code, out, err = run(capsys, place, "--team", "--instrument", "metric", "--from", "screen", "--json")
    quote = json.loads(out)
    assert code == 0, err
    assert quote["people"] == ["Ada", "Bo", "Cy", "Eve", "Paper"]
    assert quote["left_out"] == ["Dee", "Few", "Inch"]


def test_a_team_is_quoted_on_the_only_instrument(capsys, tmp_path):
    place = str(tmp_path / "one.tenthwise")
    chance = np.random.default_rng(12)
    with Archive.open(place) as made:
        for name in ("Ada", "Bo"):
            put_into(made, answers(chance, name, sessions=3))
        put_into(made, answers(chance, "Ada", sessions=1, instrument="inch"), for_record=False)
    code, out, err = run(capsys, place, "--team", "--json")
    assert code == 0, err
    assert json.loads(out)["instrument"] == "metric"  # practice on another one does not count
    assert run(capsys, place, "--team", "--practice")[0] == 1
    empty = str(tmp_path / "empty.tenthwise")
    with Archive.open(empty) as made:
        made.add_person("Ada")
    code, _, err = run(capsys, empty, "--team")
    assert code == 1
    assert "nobody in the archive has whole readings for the record" in err


def test_intervals_stand_in_all_three_units(capsys, place):
    quote = json.loads(run(capsys, place, "Inch", "--json")[1])
    assert quote["tenth_um"] == 2.54  # 0.0001 in = 2.54 um, exactly
    for name in ("bias", "spread", "u_reading"):
        for end in ("", "low_", "high_"):
            tenths = quote[name][f"{end}tenths"]
            assert quote[name][f"{end}um"] == pytest.approx(2.54 * tenths, rel=1e-12)
            assert quote[name][f"{end}ten_thousandths_in"] == pytest.approx(tenths, rel=1e-12)
    bias = quote["bias"]
    row = next(line for line in run(capsys, place, "Inch")[1].splitlines() if line.startswith("bias"))
    assert f"{fixed(bias['low_um'], sign=True)} to {fixed(bias['high_um'], sign=True)}" in row


def test_satterthwaite_of_a_balanced_team_is_the_textbook_formula():
    # two mean squares, MSB/n and (1 - 1/n) MSW, with 4 and 5 x 9 degrees of freedom
    within, between = 0.5, 0.3
    msb, msw = 10 * between**2 + within**2, within**2
    total = msb / 10 + 0.9 * msw
    wanted = total**2 / ((msb / 10) ** 2 / 4 + (0.9 * msw) ** 2 / 45)
    assert satterthwaite_df([10] * 5, within, math.hypot(within, between)) == pytest.approx(wanted)


def test_averaging_lowers_chance_alone(chance):
    frame = answers(chance, sessions=10)
    quote = of_person(score_people(frame).people[0], readings(frame))
    one, many = averaged_u(quote, 1), averaged_u(quote, 10**6)
    assert one == pytest.approx(quote.u.tenths)
    left = math.sqrt(quote.bias.tenths**2 + quote.spread.tenths**2 * (1 - quote.random_share))
    assert many == pytest.approx(left, rel=0.01)
    assert many > abs(quote.bias.tenths)


def test_a_quote_that_cannot_be_written_leaves_nothing(capsys, place, tmp_path):
    assert run(capsys, place, "Ada", "--out", str(tmp_path / "missing" / "q.md"))[0] == 1
    assert list(tmp_path.iterdir()) == []


def test_poor_light_is_never_pooled_with_clear_sight(capsys, tmp_path):
    place = str(tmp_path / "lights.tenthwise")
    chance = np.random.default_rng(11)
    poor = {"px_per_mm": 20.0, "blur_mm": 0.1, "glare": 0.3}
    clear = {"px_per_mm": 20.0, "distance_mm": 400.0}
    with Archive.open(place) as made:
        put_into(made, answers(chance, "Ada", sessions=4, slips=0), viewing=clear)
        put_into(made, answers(chance, "Ada", sessions=2, bias=3.0, slips=0), viewing=poor)
        put_into(made, answers(chance, "Bo", sessions=3, slips=0), viewing=poor)
    code, out, _ = run(capsys, place, "Ada", "--json")
    quote = json.loads(out)
    assert (code, quote["readings"], quote["sessions"]) == (0, 80, 4)
    assert (
        "not used here: readings under viewing conditions (40 with blur 0.1 mm, glare 0.3)" in quote["notes"]
    )
    # 2 atan(s / 2 D) of the metric division of 1.0053 mm at 400 mm is 8.6 minutes of arc, by hand
    assert "a division seen under 8.6 minutes of arc" in quote["conditions"]
    code, _, err = run(capsys, place, "Bo", "--json")
    assert code == 1
    assert "Bo has no clear readings on metric, only some under viewing conditions (60 with blur" in err


def test_a_file_whose_ending_names_no_form_is_not_written(capsys, place, tmp_path):
    out = tmp_path / "quote.pdf"
    assert main(["quote", "Ada", "--archive", str(place), "--out", str(out)]) == 1
    assert "must end in .txt, .md, .json or .xlsx" in capsys.readouterr().err
    assert not out.exists()
    assert main(["quote", "Ada", "--archive", str(place), "--out", str(out), "--format", "text"]) == 0
    assert "Bias" in out.read_text(encoding="utf-8")
