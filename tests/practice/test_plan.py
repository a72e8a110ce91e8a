"""Plans: the sentence for every fault, with file, line, field, value and remedy."""

import pytest

from trainer.practice.plan import Plan, UnusablePlan, load

GOOD = """\
title = "Twenty readings"
drill = "full-reading"
instrument = "metric"
items = 20
"""


@pytest.fixture
def write(tmp_path):
    def writer(text, name="60-mine.toml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return writer


def refusal(path):
    with pytest.raises(UnusablePlan) as caught:
        load(path)
    return str(caught.value).replace(str(path), "FILE")


def test_a_plan_of_four_lines_is_enough(write):
    plan = load(write(GOOD))
    assert plan == Plan("mine", "Twenty readings", "full-reading", "metric", 20)
    assert (plan.feedback, plan.for_record, plan.seconds_each) == (True, False, None)


def test_a_check_gives_no_feedback_unless_it_says_so(write):
    assert load(write(GOOD + "for_record = true\n")).feedback is False


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("items = 20", "items = 0", "FILE, line 4: items: is 0; a sitting has 1 to 1000 items"),
        ("items = 20", "items = 1001", "FILE, line 4: items: is 1001; a sitting has 1 to 1000 items"),
        ("items = 20", 'items = "20"', "FILE, line 4: items: is '20'; write a whole number"),
        ("items = 20", "items = true", "FILE, line 4: items: is True; write a whole number"),
        ("items = 20", "items = 20.0", "FILE, line 4: items: is 20.0; write a whole number"),
        ("items = 20\n", "", "FILE: items: is missing; a plan needs it"),
        ('"Twenty readings"', '" "', "FILE, line 1: title: is empty; give the plan a title"),
        ('"Twenty readings"', "7", "FILE, line 1: title: is 7; write a text in quotes"),
        (
            "items = 20",
            "items = 20\nitmes = 3",
            "FILE, line 5: itmes: is not a field of a plan; did you mean items?",
        ),
        (
            "items = 20",
            "items = 20\nseconds_each = 0.1",
            "FILE, line 5: seconds_each: is 0.1; a time limit is 0.5 to 600 seconds",
        ),
        (
            "items = 20",
            "items = 20\nseconds_each = nan",
            "FILE, line 5: seconds_each: is nan; a time limit is 0.5 to 600 seconds",
        ),
        (
            "items = 20",
            "items = 20\nfor_record = true\nfeedback = true",
            "FILE, line 6: feedback: is true; a check for the record gives none, so set feedback = false",
        ),
        (
            'drill = "full-reading"',
            'drill = "tenths"\nfor_record = true',
            "FILE, line 2: drill: 'tenths' clips answers at the pair of lines; "
            "a check needs drill = 'full-reading'",
        ),
        ("items = 20", "items = 20\nfeedback = 1", "FILE, line 5: feedback: is 1; write true or false"),
    ],
)
def test_every_fault_has_its_sentence(write, old, new, sentence):
    assert refusal(write(GOOD.replace(old, new))) == sentence


def test_an_unknown_drill_or_instrument_is_answered_with_the_known_ones(write):
    said = refusal(write(GOOD.replace("full-reading", "fullreading").replace("metric", "verner")))
    drill, instrument = said.splitlines()
    assert drill.startswith("FILE, line 2: drill: 'fullreading' is no kind of drill; choose one of tenths, ")
    assert instrument.startswith("FILE, line 3: instrument: 'verner' is not in the catalogue; choose one of ")
    assert "inch-vernier" in instrument


def test_all_faults_are_told_at_once(write):
    said = refusal(
        write('title = ""\ndrill = "tenths"\ninstrument = "metric"\nitems = 0\nseconds_each = 1e9\n')
    )
    assert [line.split(": ")[1] for line in said.splitlines()] == ["title", "items", "seconds_each"]
    said = refusal(write("items = 2.5\nsecnds_each = 3\n"))
    assert [line.split(": ")[1] for line in said.splitlines()] == [
        "items",
        "secnds_each",
        "title",
        "drill",
        "instrument",
    ]


def test_a_file_that_is_no_plan_is_refused(write, tmp_path):
    assert refusal(tmp_path / "none.toml") == "FILE: the plan cannot be read: No such file or directory"
    assert refusal(write(b'title = "\xff"\n')) == "FILE: byte 9 is not UTF-8; save the plan as UTF-8 text"
    assert refusal(write(b"#" * 70_000)) == "FILE: the file is larger than 64 KiB, which no plan is"
    assert refusal(tmp_path).startswith("FILE: the plan cannot be read: ")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("20\n", "20\nitems = 3\n", "line 5: 'items = 3' is not valid TOML; this field is set twice; "
         "leave one of the lines out"),
        ("20", "twenty", "line 4: 'items = twenty' is not valid TOML; put texts in double quotes"),
        ("20", "20\nseconds_each = 2,5", "line 5: 'seconds_each = 2,5' is not valid TOML; "
         "a number in a plan is written with a decimal point"),
        ("20", "20\nhalves = True", "line 5: 'halves = True' is not valid TOML; "
         "write true or false in small letters"),
        ("20", "20\nfeedback off", "line 5: 'feedback off' is not valid TOML; "
         "each line is a field, an equals sign and a value"),
    ],
)  # fmt: skip
def test_a_line_that_is_no_toml_is_shown_with_its_remedy(write, old, new, sentence):
    assert refusal(write(GOOD.replace(old, new, 1))) == f"FILE, {sentence}"


@pytest.mark.parametrize(
    ("drill", "instrument", "more", "sentence"),
    [
        ("vernier", "metric", "", "line 3: instrument: 'metric' has no vernier; "
         "'vernier' needs metric-vernier or inch-vernier"),
        ("self-check", "inch", "", "line 3: instrument: 'inch' has no vernier; "
         "'self-check' needs metric-vernier or inch-vernier"),
        ("full-reading", "metric", "tolerance_tenths = 2", "line 5: tolerance_tenths: belongs to judge, "
         "not to 'full-reading'; leave it out"),
        ("size-it", "metric", "near_ties = 0.5", "line 5: near_ties: belongs to vernier, not to 'size-it'; "
         "leave it out"),
        ("judge", "metric", "tolerance_tenths = 0.01", "line 5: tolerance_tenths: is 0.01; "
         "the tolerance on each side (tenths: 1 µm or 0.0001 in) is 0.1 to 3.3"),
        ("judge", "metric", "tolerance_tenths = 3.5", "line 5: tolerance_tenths: is 3.5; "
         "the tolerance on each side (tenths: 1 µm or 0.0001 in) is 0.1 to 3.3"),
        ("calibration", "metric", "blocks = [5.0, nan]", "line 5: blocks: is [5.0, nan]; "
         "write a list of numbers in square brackets"),
        ("judge", "metric", "tolerance_tenths = 3.0", "line 5: range_tenths: is 4; "
         "beside a tolerance of 3 it must be 4.5 or more"),
        ("judge", "metric", "halves = true", "line 5: halves: is for drill = 'tenths' only; "
         "leave it out of 'judge'"),
        ("vernier", "inch-vernier", 'placement = "adaptive"', "line 5: placement: is 'adaptive', which only "
         "tenths, full-reading, judge and size-it can be; leave it out"),
        ("full-reading", "metric", 'placement = "adaptive"\nfor_record = true', "line 5: placement: "
         "is 'adaptive', which would bias a check; leave it out"),
        ("calibration", "metric", "for_record = true", "line 2: drill: 'calibration' is practice only; "
         "leave for_record out"),
        ("calibration", "metric", "blocks = [2.5, 30]", "line 5: blocks: 30 lies outside 0 to 25.0 mm"),
        ("calibration", "metric", "blocks = 2.5", "line 5: blocks: is 2.5; "
         "write a list of numbers in square brackets"),
        ("zero-offset", "metric", "readings_each = 2.5", "line 5: readings_each: is 2.5; "
         "write a whole number"),
        ("tenths", "metric", "exposure_seconds = 0.01", "line 5: exposure_seconds: is 0.01; "
         "an exposure is 0.05 to 600 seconds"),
        ("tenths", "metric", 'placement = "random"', "line 5: placement: is 'random'; "
         'write "stratified" or "adaptive"'),
        ("tenths", "metric", "[viewing]\nroll_deg = 99", "line 6: viewing.roll_deg: is 99; "
         "it must be a number from -80 to 80"),
        ("tenths", "metric", "[viewing]\npx_per_mm = 20", "line 6: viewing.px_per_mm: is set by the window; "
         "leave it out, and write true_size = true for true size"),
        ("zero-look", "metric", "", "line 2: drill: 'zero-look' is no kind of drill; choose one of "
         "tenths, full-reading, half-line, zero-offset, vernier, self-check, set-to, set-line, judge, "
         "size-it, calibration"),
    ],
)  # fmt: skip
def test_a_plan_that_mixes_unlike_things_is_told_which(write, drill, instrument, more, sentence):
    text = f'title = "Mine"\ndrill = "{drill}"\ninstrument = "{instrument}"\nitems = 20\n{more}\n'
    assert refusal(write(text)) == f"FILE, {sentence}".replace(", None", "")


def test_an_unknown_viewing_condition_is_named_with_its_line(write):
    said = refusal(write(GOOD + "[viewing]\nfog = 3\n"))
    assert said.startswith("FILE, line 6: viewing.fog: has no field 'fog'; choose from ")


def test_a_byte_order_mark_does_no_harm(write):
    assert load(write(b"\xef\xbb\xbf" + GOOD.encode())).items == 20


def test_a_plan_goes_through_plain_values_and_later_fields_are_left_out():
    plan = Plan("mine", "Mine", "tenths", "inch", 5, halves=True, seconds_each=4.0, viewing={"roll_deg": 3})
    assert Plan.from_dict({**plan.to_dict(), "of_a_later_version": 1}) == plan


def test_a_plan_built_in_code_is_checked_too():
    with pytest.raises(UnusablePlan, match="plan mine: items: is 0; a sitting has 1 to 1000 items"):
        Plan("mine", "Mine", "tenths", "inch", 0)
