"""What `export` writes, `import` reads back to the same numbers; a faulty file keeps nothing."""

import dataclasses
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from trainer.records import answers_csv, export, frames
from trainer.records.answers_in import UnusableFile
from trainer.records.archive import Archive
from trainer.records.cells import defused, restored
from trainer.records.check import check
from trainer.records.frames import ANSWER_COLUMNS
from trainer.records.take_in import take_in

NAMES = ["Ana", "=cmd|' /C calc'!A0", 'O\'Neil, "Bo"', "王小明", "'tis", "@x", "-3", "Lučić; Ana", "＝1"]


def fill(archive: Archive, rng: np.random.Generator, each: int = 12) -> None:
    for name in NAMES:
        archive.add_person(name)
        items = [
            {"number": n, "position_tenths": rng.uniform(0, 25_000), "asks": "x"} for n in range(1, each + 1)
        ]
        session = archive.begin_session(name, PLAN, items, HEADER)
        for n in range(1, each + 1):
            typed = rng.choice(["=1+1", "-0,5", "7.384", "'7", "\t1", '"', "a,b", "two\nlines", "@now", ""])
            if n % 5:
                archive.save_answer(session, answer(n, rng.normal(1e4, 1e3), typed=str(typed)))
            else:
                archive.save_answer(session, answer(n, None, answer_tenths=None, outcome="skipped", typed=""))


def test_answers_go_out_and_come_back_to_the_same_bits(
    archive: Archive, chance: np.random.Generator, tmp_path: Path
) -> None:
    fill(archive, chance)
    assert export.write_answers_csv(archive, tmp_path / "out.csv") == 12 * len(NAMES)
    with Archive.open(tmp_path / "other") as other:
        done = take_in(other.store, tmp_path / "out.csv")
        assert (done.answers, done.sessions, len(done.people_added)) == (
            12 * len(NAMES),
            len(NAMES),
            len(NAMES),
        )
        pd.testing.assert_frame_equal(other.answers(), archive.answers(), check_exact=True)
        assert check(other.store).findings == []
        export.write_answers_csv(other, tmp_path / "again.csv")
    comments = 4
    out, again = ((tmp_path / n).read_text("utf-8").split("\r\n") for n in ("out.csv", "again.csv"))
    assert out[comments:] == again[comments:]


def test_what_is_exported_can_be_scored(
    archive: Archive, chance: np.random.Generator, tmp_path: Path
) -> None:
    """The scoring room's reader gives the same numbers, and the names as they are."""
    fill(archive, chance)
    export.write_answers_csv(archive, tmp_path / "out.csv")
    frame = answers_csv.read(tmp_path / "out.csv")
    ours = archive.answers()
    assert frame["truth_tenths"].tolist() == ours["truth_tenths"].tolist()
    np.testing.assert_array_equal(frame["answer_tenths"], ours["answer_tenths"])
    assert frame["person"].tolist() == ours["person"].tolist()
    assert frame["session"].tolist() == ours["session"].tolist()


def test_an_export_shows_one_moment_whatever_is_answered_meanwhile(
    begun: tuple[Archive, str], place: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive, first = begun
    later = archive.begin_session(
        "Ana", PLAN, ITEMS, dataclasses.replace(HEADER, started_at="2026-03-03T09:00:00Z")
    )
    for session in (first, later):
        archive.save_answer(session, answer(1))
    monkeypatch.setattr(frames, "MOST_SESSIONS", 1)  # each session is a page of its own

    class Out(io.StringIO):
        def write(self, text: str) -> int:
            if first in text:  # the first page is under way
                archive.save_answer(later, answer(2))
            return super().write(text)

    assert export.write(archive, "answers", Out()) == 2
    assert len(archive.answers()) == 3


def test_no_cell_of_text_can_be_run_as_a_formula(archive: Archive, chance: np.random.Generator) -> None:
    fill(archive, chance)
    out = io.StringIO()
    export.write(archive, "answers", out)
    out.seek(0)
    frame = pd.read_csv(out, comment="#", dtype=str, keep_default_na=False, skipinitialspace=False)
    texts = frame.drop(columns=["truth_tenths", "answer_tenths", "seconds", "item"]).to_numpy().ravel()
    assert len(texts) > 100
    assert not [text for text in texts if text[:1] in tuple("=+-@\t\r\n＝＋－＠") and text]


def test_the_head_of_a_file_says_what_it_is(begun: tuple[Archive, str], tmp_path: Path) -> None:
    archive, _ = begun
    export.write_answers_csv(archive, tmp_path / "out.csv")
    lines = (tmp_path / "out.csv").read_text("utf-8").splitlines()
    assert lines[0] == "# tenthwise answers, format 1"
    assert lines[1].startswith("# program version 0.")
    assert lines[2].startswith("# unit: positions in tenths of a division")
    assert lines[3].startswith("# made 2026-03-02T09:00:00")
    assert lines[4].split(",") == list(ANSWER_COLUMNS)


def test_an_export_is_an_act_of_the_log(begun: tuple[Archive, str], tmp_path: Path) -> None:
    archive, _ = begun
    export.write_answers_csv(archive, tmp_path / "out.csv", person="Ana", drill="full-reading")
    with archive.store.read() as connection:
        (detail,) = connection.exec_driver_sql("SELECT detail FROM acts WHERE kind = 'export'").one()
    assert json.loads(detail) == {"what": "answers", "rows": 0, "filters": {"drill": "full-reading"}}


def test_json_holds_the_same_rows(archive: Archive, chance: np.random.Generator) -> None:
    fill(archive, chance)
    out = io.StringIO()
    export.write(archive, "answers", out, as_json=True)
    rows = json.loads(out.getvalue())["answers"]
    assert rows[0]["truth_tenths"] == archive.answers()["truth_tenths"].iloc[0]
    assert [row["person"] for row in rows] == archive.answers()["person"].tolist()
    for what in ("sessions", "people"):
        out = io.StringIO()
        assert export.write(archive, what, out, as_json=True) == len(json.loads(out.getvalue())[what]) == 9


def test_pages_neither_lose_nor_double_an_answer(archive: Archive, chance: np.random.Generator) -> None:
    from trainer.records import frames

    fill(archive, chance)
    with archive.store.read() as connection:
        rows = [row for page in frames.answer_pages(connection, page=7) for row in page]
    assert [(row[3], row[4]) for row in rows] == [
        (row.session, row.item) for row in archive.answers().itertuples()
    ]


def test_the_same_file_twice_is_kept_once(
    archive: Archive, chance: np.random.Generator, tmp_path: Path
) -> None:
    fill(archive, chance)
    export.write_answers_csv(archive, tmp_path / "out.csv")
    with Archive.open(tmp_path / "other") as other:
        take_in(other.store, tmp_path / "out.csv")
        done = take_in(other.store, tmp_path / "out.csv")
        assert (done.answers, done.sessions_there_already) == (0, len(NAMES))
        changed = (tmp_path / "out.csv").read_text("utf-8").replace(",4.25,", ",4.5,", 1)
        (tmp_path / "changed.csv").write_text(changed, "utf-8")
        with pytest.raises(UnusableFile, match="with other answers"):
            take_in(other.store, tmp_path / "changed.csv")
        assert other.answers().shape[0] == 12 * len(NAMES)
        assert check(other.store).findings == []


def test_a_plain_file_of_another_origin_comes_in(tmp_path: Path, archive: Archive) -> None:
    """Byte order mark, semicolons, decimal commas, mixed line ends, columns we do not know."""
    text = "\ufeffperson;truth_tenths;answer_tenths;remark\r\nAna;7384,3;7384;x\nBo;21,5;;y\r\nAna;1;2;=z\n"
    (tmp_path / "in.csv").write_bytes(text.encode())
    take_in(archive.store, tmp_path / "in.csv")
    frame = archive.answers("Ana")
    assert frame[["truth_tenths", "answer_tenths"]].to_numpy().tolist() == [[7384.3, 7384.0], [1.0, 2.0]]
    assert archive.answers("Bo")["outcome"].tolist() == ["skipped"]
    assert not archive.sessions()["for_record"].any()
    assert check(archive.store).findings == []


HEAD = "person,truth_tenths,answer_tenths,session,item,outcome\n"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "is empty"),
        ("# only a comment\n", "is empty"),
        ("person,truth_tenths\nAna,1\n", "'answer_tenths' is missing"),
        (HEAD, "no answers"),
        ("person,person,truth_tenths,answer_tenths\nA,A,1,1\n", "'person' is there twice"),
        (HEAD + "Ana,1,1,S,1,\nAna,x,1,S,2,\n", "line 3: truth_tenths is 'x'"),
        (HEAD + "Ana,1,nan,S,1,\n", "line 2: answer_tenths is 'nan'"),
        (HEAD + "Ana,1,1e400,S,1,\n", "line 2: answer_tenths is '1e400'"),
        (HEAD + "Ana,,1,S,1,\n", "line 2: truth_tenths is empty"),
        (HEAD + ",1,1,S,1,\n", "line 2, person: the name is empty"),
        (HEAD + "Ana,1,1,S,1.5,\n", "line 2: item is '1.5'"),
        (HEAD + "Ana,1,1,S,1,guessed\n", "line 2: outcome is 'guessed'"),
        (HEAD + "Ana,1,1,S,1,skipped\n", "line 2: outcome is skipped but"),
        (HEAD + "Ana,1,1,S\n", "line 2: 4 cells under 6"),
        (HEAD + "Ana,1_0,1,S,1,\n", "line 2: truth_tenths is '1_0'"),
        (HEAD.strip() + ",at\nAna,1,1,S,1,,1 March\n", "line 2: at is '1 March', which is no time"),
        (HEAD.strip() + ",seconds\nAna,1,1,S,1,,-2\n", "line 2: seconds is '-2'; a time cannot be negative"),
        (HEAD + 'Ana,1,1,"S,1,\n', "line 2: .*quotes"),
        (HEAD + "Ana,1,1,S,1,\nBo,1,1,S,2,\nAna,1,1,S,1,\n", "line 4: item 1 of session 'S' was on line 2"),
        (HEAD + "Ana,1,1,S,1,\nAna,1,1,S,,\n", "have no item number"),
        (HEAD + f"Ana,1,1,{'S' * 99},1,\n", "longer than"),
        (HEAD + "Ana,1,1,S,1,\x00\n", "zero byte"),
        (HEAD + "Ana" * 50_000 + ",1,1,S,1,\n", "characters"),
        (
            "person,truth_tenths,answer_tenths,instrument,session\nA,1,1,inch,S\nA,1,1,metric,S\n",
            "changes its",
        ),
    ],
)
def test_a_faulty_file_is_refused_with_its_line_and_keeps_nothing(
    tmp_path: Path, content: str, words: str
) -> None:
    (tmp_path / "in.csv").write_text(content, "utf-8")
    with Archive.open(tmp_path / "a") as archive:
        with pytest.raises(UnusableFile, match=words):
            take_in(archive.store, tmp_path / "in.csv")
        assert archive.people() == []
        assert archive.answers().empty


def test_a_file_that_is_not_utf_8_is_refused(tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_bytes(HEAD.encode() + "Lučić,1,1,S,1,\n".encode("cp1250"))
    with (
        Archive.open(tmp_path / "a") as archive,
        pytest.raises(UnusableFile, match="line 2: byte 0xe8 is not UTF-8"),
    ):
        take_in(archive.store, tmp_path / "in.csv")


@given(st.text())
def test_a_cell_is_defused_and_restored(text: str) -> None:
    assert restored(defused(text)) == text
    assert defused(text)[:1] not in tuple("=+-@\t\r\n＝＋－＠")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.binary(max_size=300)
    | st.text(max_size=300).map(str.encode)
    | st.from_regex(r"[\w,;\"\n#.=-]{0,200}").map(str.encode)
)
def test_no_file_at_all_is_answered_with_anything_but_a_sentence(
    tmp_path_factory: Any, content: bytes
) -> None:
    from trainer.records.answers_in import read

    path = tmp_path_factory.getbasetemp() / "fuzz.csv"
    path.write_bytes(HEAD.encode() + content)
    said = ""
    try:
        assert all(row.person for row in read(path))
    except UnusableFile as refused:
        said = str(refused)
    assert said == "" or said.startswith("fuzz.csv")


def test_what_is_asked_the_conditions_and_the_way_of_approach_go_out_and_come_back(
    archive: Archive, tmp_path: Path
) -> None:
    archive.add_person("Ana")
    header = dataclasses.replace(HEADER, viewing={"px_per_mm": 20.0, "blur_mm": 0.1, "glare": 0.3})
    session = archive.begin_session("Ana", PLAN, ITEMS, header)
    way = {"approach": "rising", "reversals": 1}
    archive.save_answer(session, {**answer(1), "extra": way})
    archive.save_answer(session, answer(2))
    archive.end_session(session, "left", "2026-03-02T09:30:00+00:00")
    export.write_answers_csv(archive, tmp_path / "out.csv")
    with Archive.open(tmp_path / "other") as other:
        take_in(other.store, tmp_path / "out.csv")
        pd.testing.assert_frame_equal(other.answers(), archive.answers(), check_exact=True)
        assert dict(other.session(session).answers[0].extra) == way
        assert other.answers()["conditions"].tolist() == ["blur 0.1 mm, glare 0.3"] * 2
        assert check(other.store).findings == []
        assert take_in(other.store, tmp_path / "out.csv").sessions_there_already == 1
    read = answers_csv.read(tmp_path / "out.csv")
    assert read["conditions"].astype(str).tolist() == ["blur 0.1 mm, glare 0.3"] * 2
    assert read["asks"].astype(str).tolist() == archive.answers()["asks"].tolist()


@pytest.mark.parametrize("cell", ["rising", "[1]", '"{""a"": NaN}"'])
def test_an_extra_that_is_no_object_is_refused(archive: Archive, tmp_path: Path, cell: str) -> None:
    (tmp_path / "in.csv").write_text(f"person,truth_tenths,answer_tenths,extra\nAna,1,1,{cell}\n", "utf-8")
    with pytest.raises(UnusableFile, match="line 2: extra is .* a JSON object"):
        take_in(archive.store, tmp_path / "in.csv")
