"""`tenthwise mark` as its user runs it: a class of thirty, and everything that must be refused."""

import csv
import io
import json
import sys

import numpy as np
import pytest

from trainer.commands.main import main
from trainer.instrument import catalogue
from trainer.practice.sheets import make
from trainer.records import sheets as kept
from trainer.records.archive import Archive
from trainer.scoring.simulated import SimulatedReader

METRIC = catalogue.load("metric")
PHRASE = "lorry pudding violin marble"


@pytest.fixture
def archive(tmp_path, monkeypatch):
    path = tmp_path / "a.sqlite"
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(path))
    monkeypatch.delenv("TENTHWISE_PASSPHRASE", raising=False)
    with Archive.open(path) as opened:
        opened.add_people(["Kim", 'Åse, the "elder"'])
    return path


@pytest.fixture
def sheet(archive):
    """Return a sheet whose key is in the archive."""
    one = make("metric", 12, np.random.default_rng(11))
    with Archive.open(archive) as opened:
        kept.keep(opened, one.to_dict())
    return one


def texts(sheet, shift=0.0):
    """Return answers that read `shift` tenths high, to a tenth."""
    return [f"{(round(item.position_tenths) + shift) / 1000:.3f}" for item in sheet.items]


def mark(sheet, *arguments, answers=None):
    answered = " ".join(texts(sheet) if answers is None else answers)
    return main(["mark", sheet.number, "--person", "Kim", "--answers", answered, *arguments])


def sessions(archive):
    with Archive.open(archive) as opened:
        return len(opened.sessions())


def test_a_class_of_thirty_is_made_answered_and_marked(archive, tmp_path, capsys):
    people = [f"Reader {k:02}" for k in range(30)]
    readers = [
        SimulatedReader(name, bias_tenths=-0.6 + 0.04 * k, sigma_tenths=0.4) for k, name in enumerate(people)
    ]
    with Archive.open(archive) as opened:
        opened.add_people(people)
    assert main(["sheet", "--sheets", "30", "--readings", "40", "--out", str(tmp_path), "--json"]) == 0
    numbers = json.loads(capsys.readouterr().out)["sheets"]
    assert max(path.stat().st_size for path in tmp_path.glob("*.pdf")) <= 130_000
    chance, truths, given = np.random.default_rng(5), {}, {}
    path = tmp_path / "answers.csv"
    with Archive.open(archive) as opened, path.open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["sheet", "person", "item", "answer"])
        for number, reader in zip(numbers, readers, strict=True):
            items = kept.find(opened, number)["items"]
            truths[reader.name] = np.array([item["position_tenths"] for item in items])
            given[reader.name] = reader.answers(truths[reader.name], chance)
            for item, answer in zip(items, given[reader.name], strict=True):
                rows.writerow([number.lower(), reader.name, item["number"], METRIC.format_reading(answer, 3)])
    assert main(["mark", "--class", str(path), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert [entry["sheet"] for entry in result["sheets"]] == numbers
    found = {entry["person"]: entry for entry in result["people"]}
    for reader in readers:  # what was answered is what was scored, exactly
        errors = given[reader.name] - truths[reader.name]
        assert found[reader.name]["readings"] == 40
        assert found[reader.name]["bias_tenths"]["value"] == pytest.approx(errors.mean(), abs=1e-9)
        # and the reader behind it: the bias within five standard errors, rounding of the answers included
        assert abs(errors.mean() - reader.bias_tenths) < 5 * np.hypot(0.4, 1 / np.sqrt(12)) / np.sqrt(40)
    with Archive.open(archive) as opened:
        stored = opened.session(result["sheets"][7]["session"])
        assert (stored.plan["name"], stored.header.drill) == ("sheet", "full-reading")
        assert stored.header.px_per_mm is None
        assert not stored.header.for_record
        assert stored.header.drawing_version
        assert stored.ended_how == "finished"
        assert dict(stored.header.viewing) == {}
        assert {answer.seconds for answer in stored.answers} == {None}
    assert main(["mark", "--class", str(path)]) == 0
    assert "30 of 30 sheets were marked already with the same answers; kept once" in capsys.readouterr().out
    assert sessions(archive) == 30


def test_answers_typed_in_a_file_or_piped_are_alike(archive, sheet, tmp_path, capsys, monkeypatch):
    comma = [text.replace(".", ",") for text in texts(sheet, 1.0)]
    comma[3] = ""
    path = tmp_path / "answers.txt"
    path.write_text("\r\n".join(comma) + "\r\n")
    arguments = ["mark", sheet.number, "--person", "Kim", "--json", "--again", "test", "--answers"]
    results = []
    for given, piped in (
        (" ".join(text or "-" for text in comma), ""),
        (str(path), ""),
        ("-", "\n".join(comma)),
    ):
        monkeypatch.setattr(sys, "stdin", io.StringIO(piped))
        assert main([*arguments, given]) == 0
        results.append(json.loads(capsys.readouterr().out)["people"][0])
    biases = [result["bias_tenths"]["value"] for result in results]
    truth = [i.position_tenths for i in sheet.items if i.number != 4]
    assert biases == [pytest.approx(np.mean(np.rint(truth) + 1.0 - truth))] * 3
    assert {result["readings"] for result in results} == {11}


def test_the_result_is_printed_as_score_prints_it(sheet, capsys):
    assert mark(sheet) == 0
    said = capsys.readouterr().out
    assert "Kim" in said
    assert "confirmed on a real instrument" in said


def test_a_sheet_is_marked_twice_only_with_a_reason_that_is_kept(archive, sheet, capsys):
    assert mark(sheet) == 0
    capsys.readouterr()
    assert mark(sheet) == 1
    assert "with --again REASON" in capsys.readouterr().err
    assert mark(sheet, "--again", "  ") == 1
    assert "needs a reason" in capsys.readouterr().err
    assert sessions(archive) == 1
    assert mark(sheet, "--again", "answer 3 was misread by the clerk", "--json") == 0
    session = json.loads(capsys.readouterr().out)["sheets"][0]["session"]
    with Archive.open(archive) as opened:
        (note,) = opened.session(session).notes
    assert note.kind == "sheet-marked-again"
    assert note.detail["reason"] == "answer 3 was misread by the clerk"
    other = ["mark", sheet.number, "--person", 'Åse, the "elder"', "--answers", " ".join(texts(sheet))]
    assert main(other) == 0  # another person may read the same sheet


def test_what_cannot_be_marked_is_refused_and_nothing_kept(archive, sheet, tmp_path, capsys):
    other = make("metric", 12, np.random.default_rng(12))
    wrong = [*texts(sheet)]
    wrong[6] = "7.3.4"
    inches = [*texts(sheet)]
    inches[1] = "0.3127in"
    refused = [
        (mark, (other,), {}, f"this archive has not the key of sheet {other.number}"),
        (mark, (sheet,), {"answers": texts(other)}, "check the sheet's number"),
        (mark, (sheet,), {"answers": texts(sheet)[:-1]}, "has 12 readings, but 11 answers"),
        (mark, (sheet,), {"answers": [*texts(sheet), "1"]}, "has 12 readings, but 13 answers"),
        (mark, (sheet,), {"answers": wrong}, "reading 7: '7.3.4' has more than one decimal sign"),
        (mark, (sheet,), {"answers": inches}, "reading 2: the answer is in inches"),
        (mark, (sheet, "--person", "Nobody"), {}, "Nobody"),
        (mark, (sheet,), {"answers": [str(tmp_path / "none.txt")]}, "there is no such file"),
        (main, (["mark", "ABC", "--person", "Kim", "--answers", "1"],), {}, "is no sheet number"),
        (main, (["mark", "ABC-DEFG", "--person", "Kim", "--answers", "1"],), {}, "has a slip in it"),
        (main, (["mark", "--class", str(tmp_path / "none.csv")],), {}, "there is no such file"),
    ]
    for call, arguments, named, why in refused:
        assert call(*arguments, **named) == 1
        said = capsys.readouterr().err
        assert why in said
        assert said.count("\n") == 1
    assert main(["mark", sheet.number]) == 2
    assert main(["mark", sheet.number, "--class", "x.csv"]) == 2
    assert sessions(archive) == 0
    assert mark(sheet, "--even-so", answers=texts(other)) == 0  # somebody insists


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda rows: [], "is empty"),
        (lambda rows: rows[:1], "no answers under it"),
        (lambda rows: [["sheet", "person", "answer"], *rows[1:]], "line 1: column 'item' must be there once"),
        (lambda rows: rows[:-1], "item 12 is missing"),
        (lambda rows: [*rows, [rows[1][0], "Kim", "13", "1"]], "there is an item 13"),
        (lambda rows: [*rows, rows[1]], "line 14: item 1 of sheet"),
        (lambda rows: [*rows[:2], [rows[1][0], "", "2", "1"], *rows[3:]], "line 3: person is empty"),
        (lambda rows: [*rows[:2], [rows[1][0], "Kim", "two", "1"], *rows[3:]], "line 3: item is 'two'"),
        (
            lambda rows: [*rows[:2], ["AAA-AAAB", "Kim", "2", "1"], *rows[3:]],
            "line 3: sheet: 'AAA-AAAB' has a slip",
        ),
        (lambda rows: [*rows[:2], [*rows[2], "extra"], *rows[3:]], "line 3: 5 fields, but the header has 4"),
        (lambda rows: [*rows[:2], [*rows[2][:3], "1?"], *rows[3:]], "reading 2: '1?' is not a number"),
        (lambda rows: [rows[0], *([n, "Nobody", i, a] for n, _, i, a in rows[1:])], "Nobody"),
    ],
)
def test_a_faulty_class_is_refused_as_a_whole(archive, sheet, tmp_path, capsys, change, why):
    rows = [["sheet", "person", "item", "answer"]]
    rows += [[sheet.number, "Kim", str(k), text] for k, text in enumerate(texts(sheet), start=1)]
    path = tmp_path / "class.csv"
    path.write_text("\n".join(",".join(row) for row in change(rows)))
    assert main(["mark", "--class", str(path)]) == 1
    said = capsys.readouterr().err
    assert why in said
    assert said.count("\n") == 1
    assert sessions(archive) == 0


def test_one_bad_sheet_keeps_a_whole_class_out(archive, sheet, tmp_path, capsys):
    rows = [[sheet.number, "Kim", str(k), text] for k, text in enumerate(texts(sheet), start=1)]
    rows += [[sheet.number, 'Åse, the "elder"', row[2], row[3]] for row in rows[:-1]]
    path = tmp_path / "class.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([["sheet", "person", "item", "answer"], *rows])
    assert main(["mark", "--class", str(path)]) == 1
    assert "item 12 is missing" in capsys.readouterr().err
    assert sessions(archive) == 0


def test_a_class_marked_anew_keeps_each_sheet_once(archive, sheet, tmp_path, capsys):
    assert mark(sheet) == 0  # as if the marking of the class had been broken off here
    rows = [[sheet.number, "Kim", str(k), text] for k, text in enumerate(texts(sheet), start=1)]
    rows += [[sheet.number, 'Åse, the "elder"', str(k), text] for k, text in enumerate(texts(sheet), start=1)]
    path = tmp_path / "class.csv"

    def marked(changed):
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([["sheet", "person", "item", "answer"], *changed])
        capsys.readouterr()
        return main(["mark", "--class", str(path)])

    assert marked(rows) == 0
    assert "1 of 2 sheets were marked already with the same answers; kept once" in capsys.readouterr().out
    assert sessions(archive) == 2
    assert marked(rows) == 0
    assert sessions(archive) == 2
    other = [[*rows[0][:3], "1.111"], *rows[1:]]
    assert marked(other) == 1
    assert "of Kim is marked already" in capsys.readouterr().err
    assert sessions(archive) == 2


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_class_file_of_any_make_is_read(archive, sheet, tmp_path, capsys, encoding, end):
    rows = ["Sheet;Person;Item;Answer;Bemerkung"]
    comma = [text.replace(".", ",") for text in texts(sheet)]
    for k, text in reversed(list(enumerate(comma, start=1))):  # in any order
        rows.append(f'{sheet.number};"Åse, the ""elder""";{k};{text};größer')
    path = tmp_path / "class.csv"
    path.write_bytes(end.join(rows).encode(encoding))
    assert main(["mark", "--class", str(path), "--json"]) == 0
    (entry,) = json.loads(capsys.readouterr().out)["people"]
    errors = [round(i.position_tenths) - i.position_tenths for i in sheet.items]
    assert entry["person"] == 'Åse, the "elder"'
    assert entry["bias_tenths"]["value"] == pytest.approx(np.mean(errors))


def test_a_sealed_key_marks_and_a_lost_one_or_a_wrong_passphrase_does_not(
    archive, tmp_path, capsys, monkeypatch
):
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", PHRASE)
    key_file = tmp_path / "class.keys"
    made = ["sheet", "--readings", "12", "--out", str(tmp_path), "--key-file", str(key_file), "--json"]
    assert main(made) == 0
    (number,) = json.loads(capsys.readouterr().out)["sheets"]
    from trainer.commands import sheet_keys

    key = sheet_keys.read(key_file, PHRASE)[number]
    answers = " ".join(f"{item['position_tenths'] / 1000:.3f}" for item in key["items"])
    arguments = ["mark", number, "--person", "Kim", "--answers", answers]
    assert main(arguments) == 1
    assert "this archive has not the key" in capsys.readouterr().err
    assert main([*arguments, "--key-file", str(tmp_path / "lost.keys")]) == 1
    assert "there is no such key file; without it the sheet cannot be marked" in capsys.readouterr().err
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", "another phrase altogether")
    assert main([*arguments, "--key-file", str(key_file)]) == 1
    assert "this passphrase does not open it" in capsys.readouterr().err
    assert sessions(archive) == 0
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", PHRASE)
    (tmp_path / "no.keys").write_bytes(b"\xff\x00")
    assert main([*arguments, "--key-file", str(tmp_path / "no.keys")]) == 1
    assert "not a sealed file" in capsys.readouterr().err
    assert main([*arguments, "--key-file", str(key_file)]) == 0
    capsys.readouterr()
    assert main([*arguments, "--key-file", str(key_file)]) == 1
    assert "marked already" in capsys.readouterr().err
    stranger = make("metric", 12, np.random.default_rng(1)).number
    assert main(["mark", stranger, *arguments[2:], "--key-file", str(key_file)]) == 1
    assert "neither this archive nor the key file has" in capsys.readouterr().err


def test_a_sheet_on_which_all_was_skipped_is_kept_and_says_so(archive, sheet, capsys):
    assert mark(sheet, answers=["-"] * 12) == 0
    assert "nothing to score" in capsys.readouterr().out
    assert sessions(archive) == 1


def test_enlarged_print_is_told_apart_from_true_scale(archive, capsys):
    found = {}
    for magnification, seed in ((1.0, 21), (1.5, 22)):
        one = make("metric", 12, np.random.default_rng(seed))
        with Archive.open(archive) as opened:
            kept.keep(opened, {**one.to_dict(), "paper": "a4", "magnification": magnification})
        assert mark(one, "--json") == 0
        session = json.loads(capsys.readouterr().out)["sheets"][0]["session"]
        with Archive.open(archive) as opened:
            found[magnification] = set(opened.answers(session=session)["conditions"].dropna()) - {""}
    assert found == {1.0: set(), 1.5: {"printed 1.5 times true scale"}}


def test_a_sheet_on_which_everything_was_skipped_is_json_too(archive, sheet, capsys):
    assert mark(sheet, "--json", answers=["-"] * 12) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["people"] == []
    assert [(one["sheet"], one["person"]) for one in told["sheets"]] == [(sheet.number, "Kim")]
    assert sessions(archive) == 1


def test_a_missing_key_file_is_told_before_its_passphrase_is_asked_for(sheet, tmp_path, capsys):
    assert mark(sheet, "--key-file", str(tmp_path / "none.keys")) == 1
    said = capsys.readouterr().err
    assert "there is no such key file" in said
    assert said.count("\n") == 1


def test_a_key_file_is_sealed_and_opened_with_a_passphrase_from_a_file(archive, tmp_path, capsys):
    phrase, keys, out = tmp_path / "phrase.txt", tmp_path / "keys", tmp_path / "out"
    phrase.write_text(PHRASE + "\n")
    sealing = ["--key-file", str(keys), "--passphrase-file", str(phrase)]
    assert main(["sheet", "--out", str(out), *sealing]) == 0
    number = next(out.glob("sheet-*.pdf")).stem.removeprefix("sheet-")
    answered = ["mark", number, "--person", "Kim", "--answers", " ".join(["-"] * 20)]
    assert main([*answered, *sealing]) == 0
    phrase.write_text("another one that is long enough\n")
    assert main([*answered, "--again", "once more", *sealing]) == 1
    assert "this passphrase does not open it" in capsys.readouterr().err
