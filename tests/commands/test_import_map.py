"""`tenthwise import --map`: a laboratory's own CSV, its encodings, units, times and faults."""

import codecs
import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainer.commands import import_map
from trainer.commands.main import main
from trainer.records import foreign
from trainer.records.answers_in import UnusableFile
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.foreign_map import ForeignMap

SHIPPED = Path(__file__).parents[2] / "sessions" / "maps"
MAP = """
[file]
delimiter = ";"
decimal = ","
[columns]
person = "Name"
truth = "Soll"
answer = "Ist"
at = "Zeit"
item = "Nr"
[values]
unit = "mm"
time_zone = "+01:00"
skipped = ["-"]
[constants]
instrument = "metric"
"""
HEAD = "Name;Nr;Zeit;Soll;Ist\n"
ROWS = "Ana;1;2026-03-02 08:00;7,3842;7,384\nBo;1;2026-03-02 08:01;0,2907;-\n"


@pytest.fixture
def place(tmp_path):
    return str(tmp_path / "a.tenthwise")


GOOD = (HEAD + ROWS).encode()


def run(tmp_path, place, content, text=MAP, *more):
    """Import a file by a map; return the exit code."""
    raw = content if isinstance(content, bytes) else content.encode()
    (tmp_path / "lab.csv").write_bytes(raw)
    (tmp_path / "lab.toml").write_text(text, "utf-8")
    return main(
        ["import", str(tmp_path / "lab.csv"), "--map", str(tmp_path / "lab.toml"), "--archive", place, *more]
    )


def kept(place):
    with Archive.open(place) as opened:
        assert check(opened.store).findings == []
        return opened.answers()


def test_readings_in_millimetres_become_tenths_to_the_last_bit(tmp_path, place):
    assert run(tmp_path, place, HEAD + ROWS) == 0
    frame = kept(place)
    assert frame["person"].tolist() == ["Ana", "Bo"]
    assert frame["truth_tenths"].tolist() == [7384.2, 290.7]  # a tenth is 1 um: 7.3842 mm is 7384.2 tenths
    assert frame["answer_tenths"].iloc[0] == 7384.0
    assert frame["outcome"].tolist() == ["answered", "skipped"]
    assert frame["typed"].tolist() == ["7,384", "-"]
    assert frame["at"].tolist() == ["2026-03-02T07:00:00.000Z", "2026-03-02T07:01:00.000Z"]
    with Archive.open(place) as opened:
        sessions = opened.sessions()
        assert not sessions["for_record"].any()
        ids = {person.name: person.id for person in opened.people()}
    # a session a person and day, named without the person's name, which can be taken away for good
    assert set(sessions["session"]) == {f"2026-03-02 {ids['Ana']}", f"2026-03-02 {ids['Bo']}"}


@pytest.mark.parametrize(
    ("unit", "truth", "answer", "instrument", "tenths"),
    [
        ("mm", "7,3842", "7,384", "metric", (7384.2, 7384.0)),
        ("um", "7384,2", "7384", "metric", (7384.2, 7384.0)),
        ("tenths", "7384,2", "7384", "metric", (7384.2, 7384.0)),
        ("in", "0,29075", "0,2907", "inch", (2907.5, 2907.0)),  # a tenth is 0.0001 in
        ("mm", "7,38505", "7,384", "inch", (2907.5, 2907.0866141732286)),  # 1 in = 25.4 mm exactly
        ("in", "0,290717", "0,2907", "metric", (7384.2118, 7383.78)),
    ],
)
def test_units_are_exact(tmp_path, place, unit, truth, answer, instrument, tenths):
    text = MAP.replace('"mm"', f'"{unit}"').replace('"metric"', f'"{instrument}"')
    assert run(tmp_path, place, HEAD + f"Ana;1;2026-03-02 08:00;{truth};{answer}\n", text) == 0
    frame = kept(place)
    assert (frame["truth_tenths"].iloc[0], frame["answer_tenths"].iloc[0]) == tenths


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8", codecs.BOM_UTF8),
        ("utf-16-le", codecs.BOM_UTF16_LE),
        ("utf-16-be", codecs.BOM_UTF16_BE),
        ("latin-1", b""),
        ("cp1252", b""),
        ("cp437", b""),
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r", "mixed"])
def test_every_stated_encoding_and_line_end_is_read(tmp_path, place, encoding, mark, ends):
    content = HEAD.replace("Name", "Prüfer") + ROWS.replace("Ana", "Zoë") + "Bo;2;2026-03-02 08:02;1,5;1,5\n"
    if ends == "mixed":
        for new in ("\r\n", "\r", "\n"):
            content = content.replace("\n", new, 1) if new != "\n" else content
    else:
        content = content.replace("\n", ends)
    stated = "" if mark else f'encoding = "{encoding}"'
    text = MAP.replace("[file]", f"[file]\n{stated}").replace('"Name"', '"Prüfer"')
    assert run(tmp_path, place, mark + content.encode(encoding), text) == 0
    assert sorted(kept(place)["person"]) == ["Bo", "Bo", "Zoë"]


def test_a_byte_order_mark_counts_more_than_the_map(tmp_path, place):
    text = MAP.replace("[file]", '[file]\nencoding = "latin-1"')
    assert run(tmp_path, place, codecs.BOM_UTF8 + (HEAD + ROWS.replace("Ana", "Zoë")).encode(), text) == 0
    assert "Zoë" in kept(place)["person"].tolist()


def test_tabs_skipped_lines_comments_quotes_and_trailing_cells(tmp_path, place):
    text = MAP.replace('";"', '"tab"').replace(
        'decimal = ","', 'decimal = "."\nskip_lines = 2\ncomment = "%"'
    )
    content = (
        "Title of the sheet\n\n% made by hand\nName\tNr\tZeit\tSoll\tIst\t\t\n"
        '"Lee, ""Bo"" A"\t1\t2026-03-02 08:00\t7.3842\t7.384\t\t\n% between\n\n'
    )
    assert run(tmp_path, place, content, text) == 0
    assert kept(place)["person"].tolist() == ['Lee, "Bo" A']


def test_without_header_columns_go_by_number_and_errors_stand_for_answers(tmp_path, place):
    text = """
[file]
header = false
[columns]
truth = 2
error = 3
[values]
unit = "in"
[constants]
person = "Ana"
instrument = "inch"
session = "May"
conditions = "loupe 2.5 times"
"""
    assert run(tmp_path, place, "x,0.2907,-0.0001\ny,0.1234,0.0002\n", text) == 0
    frame = kept(place)
    assert (frame["answer_tenths"] - frame["truth_tenths"]).tolist() == [-1.0, 2.0]
    assert frame["conditions"].tolist() == ["loupe 2.5 times"] * 2
    assert frame["session"].iloc[0].startswith("May ")


def test_sessions_by_day_and_batch_a_prefix_and_words(tmp_path, place):
    text = MAP.replace(
        "[constants]",
        '[words.person]\n"A" = "Ana"\n[sessions]\nby = ["day", "Los"]\nprefix = "B7"\n[constants]',
    )
    rows = "".join(
        f"A;{n};2026-03-0{day} 08:0{n};1,0001;1,000;{lot}\n"
        for day in (2, 3)
        for lot in ("x", "y")
        for n in (1, 2)
    )
    assert run(tmp_path, place, HEAD.replace("\n", ";Los\n") + rows, text) == 0
    frame = kept(place)
    assert set(frame["person"]) == {"Ana"}
    assert sorted({s.rsplit(" ", 1)[0] for s in frame["session"]}) == [
        "B7 2026-03-02 x", "B7 2026-03-02 y", "B7 2026-03-03 x", "B7 2026-03-03 y",
    ]  # fmt: skip


def test_a_named_zone_knows_summer_time(tmp_path, place):
    text = MAP.replace('"+01:00"', '"Europe/Oslo"\ndate_format = "%d.%m.%Y %H.%M"')
    rows = "Ana;1;02.03.2026 08.00;1,0;1,0\nAna;1;02.07.2026 08.00;1,0;1,0\n"
    assert run(tmp_path, place, HEAD + rows, text) == 0
    # Central European time is UTC+1, in summer UTC+2 (IANA time zone database)
    assert kept(place)["at"].tolist() == ["2026-03-02T07:00:00.000Z", "2026-07-02T06:00:00.000Z"]


def test_the_same_file_twice_is_kept_once_and_changed_answers_are_refused(tmp_path, place, capsys):
    assert run(tmp_path, place, HEAD + ROWS) == 0
    assert run(tmp_path, place, HEAD + ROWS) == 0
    assert "2 sessions were in the archive already" in capsys.readouterr().out
    assert len(kept(place)) == 2
    assert run(tmp_path, place, HEAD + ROWS.replace("7,384\n", "7,385\n")) == 1
    assert "with other answers" in capsys.readouterr().err
    assert len(kept(place)) == 2


def test_a_dry_run_tells_what_would_come_and_keeps_nothing(tmp_path, place, capsys):
    assert run(tmp_path, place, HEAD + ROWS, MAP, "--dry-run", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["answers"], told["sessions"], told["people_added"]) == (2, 2, ["Ana", "Bo"])
    assert (told["first_day"], told["instruments"]) == ("2026-03-02", ["metric"])
    assert not Path(place).exists()
    assert run(tmp_path, place, HEAD + ROWS) == 0
    capsys.readouterr()
    more = HEAD + ROWS + "Cy;1;2026-03-04 08:00;1,5;1,5\n"
    assert run(tmp_path, place, more, MAP, "--dry-run") == 0
    said = capsys.readouterr().out
    assert "1 answer in 1 session would come in" in said
    assert "Cy (new)" in said
    assert "2 sessions are in the archive already" in said
    assert len(kept(place)) == 2
    assert run(tmp_path, place, HEAD + "Ana;1;2026-03-02 08:00;;7,384\n", MAP, "--dry-run") == 1


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (
            "Ana;1;2026-03-02 08:00;;7,384",
            "line 4, column 'Soll': '' leaves the reading without its true value",
        ),
        ("Ana;1;2026-03-02 08:00;7.384;7,384", "column 'Soll': '7.384' has a point"),
        ("Ana;1;2026-03-02 08:00;7,384;7,38x", "column 'Ist': '7,38x' is no number"),
        ("Ana;1;2026-03-02 08:00;1_0;7,38", "'1_0' is no number"),
        ("Ana;1;2026-03-02 08:00;nan;7,38", "'nan' is no number"),
        ("Ana;1;2026-03-02 08:00;1,0;1e99", "column 'Ist': '1e99' is larger than anything that can be read"),
        ("Ana;1;2026-03-02 08:00;290,7;7,38", "lies outside the travel of metric (0 to 25"),
        ("Ana;1;02.03.2026;1,0;1,0", "column 'Zeit': '02.03.2026' is no moment of the form ISO 8601"),
        ("Ana;0;2026-03-02 08:00;1,0;1,0", "column 'Nr': '0' is no whole number from 1"),
        (";1;2026-03-02 08:00;1,0;1,0", "column 'Name': '' cannot be a name"),
        ("Ana;1;2026-03-02 08:00;1,0", "line 4: 4 cells, where 5 are expected"),
        ("Ana;1;2026-03-02 08:00;1,0;1,0;7", "line 4: 6 cells, where 5 are expected"),
        ('"Ana;1;2026-03-02 08:00;1,0;1,0', "line 4: unexpected end of data; check the quotes"),
        ("Bo;1;2026-03-02 08:09;1,0;1,0", "line 4: item 1 of session '2026-03-02' was on line 3 already"),
    ],
)
def test_a_faulty_row_is_told_exactly_and_nothing_is_kept(tmp_path, place, capsys, row, told):
    assert run(tmp_path, place, HEAD + ROWS + row + "\n") == 1
    said = capsys.readouterr().err
    assert told in said
    assert said.startswith("tenthwise: lab.csv, line 4")
    assert said.count("\n") == 1
    with Archive.open(place) as opened:
        assert opened.people() == []
        assert opened.answers().empty


@pytest.mark.parametrize(
    ("content", "text", "told"),
    [
        (b"", MAP, "there are no lines"),
        (HEAD.encode(), MAP, "no answers"),
        (HEAD.replace("Soll", "Sol").encode(), MAP, "there is no column 'Soll'; did you mean 'Sol'?"),
        (HEAD.replace("Nr", "Soll").encode(), MAP.replace('item = "Nr"\n', ""), "'Soll' is there 2 times"),
        (HEAD.encode() + "Zoë;1;;1;1\n".encode("latin-1"), MAP, "line 2: byte 0xeb is not UTF-8"),
        (GOOD, MAP.replace("+01:00", "Mars/Base"), "time_zone: is 'Mars/Base'"),
        (GOOD, MAP.replace('time_zone = "+01:00"', ""), "has no time zone"),
        (GOOD, MAP.replace('instrument = "metric"', 'instrument = "meter"'), "did you mean 'metric'"),
        (GOOD, MAP.replace('[constants]\ninstrument = "metric"', ""), "instrument is missing"),
        (GOOD, MAP.replace('truth = "Soll"', ""), "truth is missing; readings without"),
        (GOOD, MAP.replace('answer = "Ist"', ""), "give answer, or error"),
        (GOOD, MAP.replace('unit = "mm"', ""), "unit is missing"),
        (GOOD, MAP.replace('"mm"', '"cm"'), "lab.toml, line 12: values.unit: is 'cm'"),
        (GOOD, MAP.replace("decimal", "decimals"), "is no field of [file]; did you mean"),
        (GOOD, MAP.replace('";"', '";;"'), "file.delimiter: is ';;'; give one character"),
        (GOOD, MAP.replace('","', '"x"'), "file.decimal: is 'x'"),
        (GOOD, MAP.replace("[file]", "[file]\nencoding = 'klingon'"), "file.encoding: is 'klingon'"),
        (GOOD, MAP.replace("[file]", "[file]\nencoding = 'hex'"), "file.encoding: is 'hex'"),
        (GOOD, MAP.replace("[file]", '[file]\nencoding = "a\\u0000b"'), "file.encoding: is "),
        (GOOD, MAP.replace("[file]", "[file]\nheader = false"), "has no header; give"),
        (GOOD, MAP.replace("[file]", "[file]\nheader = 1"), "is 1; give true or false"),
        (GOOD, MAP.replace("[constants]", "[constants]\ndrill='bench-check'"), "is 'bench-check'"),
        (GOOD, "= 3", "is not valid TOML"),
        (GOOD, "[files]\n", "files: is no table of a map; did you mean 'file'?"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_or_mapped_is_told_in_one_sentence(tmp_path, place, capsys, content, text, told):
    assert run(tmp_path, place, content, text) == 1
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1


def test_a_bench_check_without_its_reference_does_not_come_in(tmp_path, place, capsys):
    text = MAP.replace("[values]", 'drill = "Art"\n[values]')
    row = "Ana;1;2026-03-02 08:00;7,384;7,384;bench-check\n"
    assert run(tmp_path, place, HEAD.replace("\n", ";Art\n") + row, text) == 1
    assert "line 2, column 'Art': 'bench-check' is no drill of this program" in capsys.readouterr().err
    sound = text.replace("[constants]", '[words.drill]\n"bench-check" = "full-reading"\n[constants]')
    assert run(tmp_path, place, HEAD.replace("\n", ";Art\n") + row, sound) == 0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.binary(max_size=200) | st.from_regex(r"[\w,;\"\n\t#.=: -]{0,200}").map(str.encode),
    st.sampled_from(["utf-8", "utf-16", "latin-1", "cp1252", None]),
    st.booleans(),
)
def test_no_file_at_all_is_answered_with_anything_but_a_sentence(tmp_path_factory, content, encoding, header):
    path = tmp_path_factory.getbasetemp() / "fuzz.csv"
    path.write_bytes(b"Name;Soll;Ist;Zeit\n" + content)
    columns = {"person": "Name", "truth": "Soll", "answer": "Ist", "at": "Zeit"}
    if not header:
        columns = {name: place for place, name in enumerate(columns, start=1)}
    by = ForeignMap(columns, "tenths", encoding=encoding, header=header, by=("day",), skipped=("", "-"))
    said = ""
    try:
        assert all(row.person for row in foreign.read(path, by))
    except UnusableFile as refused:
        said = str(refused)
    assert said == "" or said.startswith("fuzz.csv")


def test_the_shipped_example_comes_in(place, capsys):
    example = [str(SHIPPED / "gauge-room.csv"), "--map", str(SHIPPED / "gauge-room.toml"), "--archive", place]
    assert main(["import", *example]) == 0
    frame = kept(place)
    assert len(frame) == 36
    assert set(frame["person"]) == {"Jonna Test", "Öztürk, Ayse"}
    assert (frame["outcome"] == "skipped").sum() == 1
    errors = (frame["answer_tenths"] - frame["truth_tenths"]).dropna()
    assert errors.abs().max() < 3


def test_every_shipped_map_is_sound():
    maps = sorted(SHIPPED.glob("*.toml"))
    assert maps
    assert all(import_map.load(path).unit in ("mm", "in") for path in maps)
