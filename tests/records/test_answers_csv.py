"""Answers from CSV: what is read is exactly what stands there, what cannot be read is named exactly."""

import csv
import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.records import answers_csv
from trainer.records.answers_csv import UnreadableAnswers
from trainer.records.cells import defused

HEAD = "person,truth_tenths,answer_tenths\n"


@pytest.fixture
def write(tmp_path):
    def _write(content, name="answers.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return _write


def read(write, content):
    return answers_csv.read(write(content))


def refused(write, content):
    with pytest.raises(UnreadableAnswers) as refusal:
        answers_csv.read(write(content))
    text = str(refusal.value)
    assert "\n" not in text
    return text


def test_the_plainest_file_is_read(write):
    frame = read(write, HEAD + "Ana,7383.6,7384\nBen,21,20.5\n")
    assert frame["person"].tolist() == ["Ana", "Ben"]
    assert frame["truth_tenths"].tolist() == [7383.6, 21.0]
    assert frame["answer_tenths"].tolist() == [7384.0, 20.5]


def test_comments_before_the_header_other_columns_and_windows_line_ends_do_not_matter(write):
    text = "# Tenthwise answers, format 1\n# made here\n\n"
    text += "note,Person , truth_tenths,answer_tenths,hue\nx,Ana,1,2,red\n"
    frame = read(write, text.replace("\n", "\r\n"))
    assert list(frame.columns) == ["person", "truth_tenths", "answer_tenths"]
    assert frame.iloc[0].tolist() == ["Ana", 1.0, 2.0]


def test_a_byte_order_mark_does_not_matter(write):
    assert read(write, b"\xef\xbb\xbf" + (HEAD + "Ana,1,2\n").encode())["person"].tolist() == ["Ana"]


def test_a_file_without_a_last_line_end_is_whole(write):
    assert len(read(write, HEAD + "Ana,1,2\nAna,3,4")) == 2


def test_names_that_look_like_numbers_or_missing_values_stay_as_they_are(write):
    frame = read(write, HEAD + "007,1,2\n7,1,2\n007,3,4\n")
    assert frame["person"].tolist() == ["007", "7", "007"]
    assert read(write, HEAD + "NA,1,2\nnan,1,2\nNone,3,4\n")["person"].tolist() == ["NA", "nan", "None"]


def test_quoted_names_and_line_breaks_in_them_are_read(write):
    frame = read(write, HEAD + '"Lee, A.",1,2\n"two\nlines",3,4\n')
    assert frame["person"].tolist() == ["Lee, A.", "two\nlines"]


def test_names_that_were_defused_for_spreadsheets_are_restored(write):
    names = ["=1+1", "-x", "'tis", "＝1", "plain"]
    rows = "".join(f"{defused(name)},1,2\n" for name in names)
    assert read(write, HEAD + rows)["person"].tolist() == names
    assert read(write, HEAD + "'tis,1,2\n")["person"].tolist() == ["'tis"]


@pytest.mark.parametrize(
    ("text", "truth"),
    [
        ("person;truth_tenths;answer_tenths\nAna;7383,6;7384\n", 7383.6),
        ("person;truth_tenths;answer_tenths\nAna;7383.6;7384\n", 7383.6),
        ("person\ttruth_tenths\tanswer_tenths\nAna\t7383,6\t7384\n", 7383.6),
        (HEAD + 'Ana,"7383,6","7384"\n', 7383.6),
        (HEAD + "Ana, 7383.6 , 7384\n", 7383.6),
        ("person;truth_tenths;answer_tenths\nLee, A.;7383.6;7384\n", 7383.6),
        (HEAD + "Ana,−0.5,0\n", -0.5),
        (HEAD + "Ana,7.3836e3,7384\n", 7383.6),
    ],
)
def test_the_ways_of_the_world_to_write_a_number(write, text, truth):
    assert read(write, text)["truth_tenths"].tolist() == [truth]


def test_an_empty_answer_is_a_skipped_reading(write):
    frame = read(write, HEAD + "Ana,1,\nAna,2,2\n")
    assert np.isnan(frame["answer_tenths"][0])


def test_all_known_columns_come_along(write):
    text = (
        "person,truth_tenths,answer_tenths,session,item,at,seconds,instrument,drill,outcome,typed\n"
        "Ana,1,2,5,1,2026-01-31T08:00:00Z,3.25,metric,full-reading,answered,0.002\n"
        "Ana,2,,5,2,2026-01-31T08:00:09+00:00,,metric,full-reading,skipped,\n"
    )
    frame = read(write, text)
    assert frame["outcome"].tolist() == ["answered", "skipped"]
    assert frame["item"].tolist() == [1.0, 2.0]
    assert frame["seconds"][0] == 3.25
    assert frame["session"].tolist() == ["5", "5"]
    assert frame["typed"][0] == "0.002"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("", ["answers.csv is empty", "person,truth_tenths,answer_tenths"]),
        ("  \n\n", ["answers.csv is empty"]),
        ("# only a comment\n", ["only comments"]),
        ("# only a comment", ["only comments"]),
        (HEAD, ["has a header but no answers"]),
        ("who,truth_tenths,answer\n1,2,3\n", ["line 1", "no column 'person' or 'answer_tenths'", "'who'"]),
        ("# c\n" + HEAD.replace("truth", "answer") + "a,1,2\n", ["line 2", "'answer_tenths' occurs twice"]),
        (HEAD + "Ana,1,2\nAna,1,about 2\n", ["line 3", "answer_tenths is 'about 2'", "not a number"]),
        ("# c\n" + HEAD + "Ana,x,2\n", ["line 3", "truth_tenths is 'x'"]),
        (HEAD + "Ana,1,inf\n", ["line 2", "answer_tenths is 'inf'", "not finite"]),
        (HEAD + "Ana,1,1e400\n", ["line 2", "'1e400'", "not finite"]),
        (HEAD + "Ana,-Infinity,1\n", ["line 2", "truth_tenths is '-Infinity'"]),
        (HEAD + "Ana,1,nan\n", ["line 2", "answer_tenths is 'nan'", "not a number"]),
        (HEAD + "Ana,,2\n", ["line 2", "truth_tenths is ''", "true position"]),
        (HEAD + "Ana,1,2\n ,1,2\n", ["line 3", "person is empty"]),
        (HEAD + ",1,2\n", ["line 2", "person is empty"]),
        (HEAD + "Ana,1,2,3\n", ["line 2", "has 4 fields, the header has 3"]),
        (HEAD + "Ana,7383,6,7384\n", ["line 2", "has 4 fields", "decimals"]),
        (HEAD + "Ana,1,2\nAna,1\n", ["line 3", "has 2 fields"]),
        (HEAD + "Ana,1,2\nAna,1\nAna,1,2,3\n", ["line 3", "has 2 fields"]),  # the commas add up
        (HEAD + "Ana,1,1_000\n", ["line 2", "'1_000'"]),
        (HEAD.strip() + ",seconds\nAna,1,2,-3\n", ["line 2", "seconds is '-3'", "negative"]),
        (HEAD.strip() + ",seconds\nAna,1,2,soon\n", ["line 2", "seconds is 'soon'"]),
        (HEAD.strip() + ",outcome\nAna,1,2,guessed\n", ["line 2", "outcome is 'guessed'", "timed-out"]),
        (
            HEAD.strip() + ",outcome\nAna,1,2,\nAna,1,1900,skipped\n",
            ["line 3", "outcome is skipped, but answer_tenths is '1900'", "empty the one"],
        ),
        (HEAD.strip() + ",outcome\nAna,1,0,timed-out\n", ["line 2", "timed-out, but answer_tenths is '0'"]),
        (HEAD.strip() + ",at\nAna,1,2,yesterday\n", ["line 2", "at is 'yesterday'", "2026-01-31T08:30:00Z"]),
        (HEAD + 'Ana,"two\nlines",2\n', ["line 3", "truth_tenths"]),
    ],
)
def test_what_is_wrong_is_named_by_line_field_value_and_remedy(write, text, parts):
    said = refused(write, text)
    assert said.startswith("answers.csv")
    for part in parts:
        assert part in said


def test_a_byte_that_is_not_utf8_is_named_with_its_place(write):
    said = refused(write, HEAD.encode() + b"Ana,1,2\nJos\xe9,1,2\n")
    assert "line 3: byte 0xe9 at position 45 is not UTF-8" in said
    assert (HEAD.encode() + b"Ana,1,2\nJos\xe9")[45] == 0xE9
    marked = refused(write, b"\xef\xbb\xbf" + HEAD.encode() + b"Jos\xe9,1,2\n")
    assert "byte 0xe9 at position 40" in marked


def test_other_encodings_and_binary_files_are_refused(write):
    assert "UTF-16" in refused(write, (HEAD + "Ana,1,2\n").encode("utf-16"))
    assert "zero byte" in refused(write, HEAD.encode() + b"Ana,1,\x002\n")
    assert "not UTF-8" in refused(write, b"PK\x03\x04\x14\x00\x06\x00\x08\x00\xff\xff")


def test_a_file_that_is_not_there_or_is_a_folder_is_refused(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(UnreadableAnswers, match="cannot be read"):
            answers_csv.read(path)


def test_a_long_wrong_field_is_cut_in_the_sentence(write):
    assert len(refused(write, HEAD + "Ana,1," + "x" * 10_000 + "\n")) < 250


def test_both_paths_read_the_same(write, chance):
    """A blank line sends the file down the patient path; the numbers must be the same to the last bit."""
    rows = [f"r{n % 3},{chance.normal(0, 1e4)!r},{chance.normal():.17g}" for n in range(300)]
    rows = [row.replace("np.float64(", "").replace(")", "") for row in rows]
    fast = read(write, HEAD + "\n".join(rows) + "\n")
    patient = read(write, HEAD + "\n\n".join(rows) + "\n")
    assert fast["person"].tolist() == patient["person"].tolist()
    for column in ("truth_tenths", "answer_tenths"):
        assert (fast[column].to_numpy() == patient[column].to_numpy()).all()
        assert fast[column].tolist() == [float(row.split(",")[1 + (column[0] == "a")]) for row in rows]


NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).filter(
    lambda name: name.strip() == name and name.strip() and not name.startswith(("'", "#", "\ufeff"))
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(NAMES, st.floats(-1e9, 1e9), st.floats(-1e9, 1e9)), min_size=1, max_size=8))
def test_whatever_a_csv_writer_writes_is_read_back(tmp_path_factory, rows):
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["person", "truth_tenths", "answer_tenths"])
    writer.writerows(rows)
    path = tmp_path_factory.mktemp("csv") / "answers.csv"
    path.write_bytes(text.getvalue().encode())
    frame = answers_csv.read(path)
    assert list(zip(frame["person"], frame["truth_tenths"], frame["answer_tenths"], strict=True)) == rows


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_never_an_exception(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("csv") / "answers.csv"
    for head in (b"", HEAD.encode()):
        path.write_bytes(head + content)
        try:
            frame = answers_csv.read(path)
        except UnreadableAnswers:
            continue
        assert np.isfinite(frame["truth_tenths"]).all()


def test_commas_and_points_may_be_mixed_where_the_comma_does_not_separate(write):
    text = "person;truth_tenths;answer_tenths\nAna;1,25;1\nAna;2.5;2\nAna;1e1;10\n"
    assert read(write, text)["truth_tenths"].tolist() == [1.25, 2.5, 10.0]
    assert "'1.234,5'" in refused(write, text + "Ana;1.234,5;3\n")


def test_what_the_archive_exports_is_scored_as_it_stands_in_the_archive(tmp_path, chance):
    """Written by `export`, read back: the same people, numbers to the last bit, skips still skips."""
    from trainer.records.archive import Archive
    from trainer.records.export import write_answers_csv
    from trainer.scoring.table import score_people

    with Archive.open(tmp_path / "a.sqlite", create=True) as archive:
        _one_session(archive, "=Ana, the first", chance)
        write_answers_csv(archive, tmp_path / "out.csv")
        stored = archive.answers()
    frame = answers_csv.read(tmp_path / "out.csv")
    assert frame["truth_tenths"].tolist() == stored["truth_tenths"].tolist()
    assert score_people(frame).to_dict() == score_people(stored).to_dict()
    assert score_people(frame).people[0].person == "=Ana, the first"
    assert score_people(frame).people[0].skipped == 1


def _one_session(archive, name, chance):
    from trainer.records.values import SessionHeader

    person = archive.add_person(name)
    truths = [float(x) for x in 100 * chance.random(30)]
    items = [{"number": i + 1, "position_tenths": t, "asks": "full-reading"} for i, t in enumerate(truths)]
    header = SessionHeader(
        instrument="metric",
        drill="full-reading",
        for_record=False,
        seed=1,
        program_version="0",
        drawing_version="0",
        viewing={},
        px_per_mm=20.0,
        station="",
        started_at="2026-01-31T08:00:00Z",
    )
    session = archive.begin_session(person, {"name": "p"}, items, header)
    for i, truth in enumerate(truths):
        answered = i != 4
        archive.save_answer(
            session,
            {
                "number": i + 1,
                "typed": "",
                "answer_tenths": float(np.rint(truth)) if answered else None,
                "outcome": "answered" if answered else "skipped",
                "seconds": 2.5,
                "at": f"2026-01-31T08:00:{i:02d}Z",
            },
        )
    archive.end_session(session, "finished", "2026-01-31T08:01:00Z")
