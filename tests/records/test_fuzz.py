"""Spoilt input of every kind ends in a refusal or is taken (short form of tests/campaigns/fuzz.py)."""

import importlib.util
import os
import re
import sqlite3
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from trainer.commands import budget_file, import_map
from trainer.instrument.refusal import Refusal
from trainer.practice import plan
from trainer.records import answers_csv
from trainer.records.archive import Archive
from trainer.records.canonical import plain_text
from trainer.records.check import check
from trainer.records.refusals import DamagedArchive
from trainer.signoff import criterion, keys

CAMPAIGNS = Path(__file__).parents[1] / "campaigns"
CASES = 3000


@pytest.fixture
def fuzz(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give the campaign's module."""
    monkeypatch.setattr(sys, "path", [*sys.path])
    monkeypatch.setattr(
        keys.locked, "__kwdefaults__", {**keys.locked.__kwdefaults__}
    )  # the campaign's are cheap
    spec = importlib.util.spec_from_file_location("fuzz", CAMPAIGNS / "fuzz.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, module)
    spec.loader.exec_module(module)
    return module


def test_spoilt_input_is_refused_or_taken(fuzz: Any, tmp_path: Path) -> None:
    found = fuzz.campaign(CASES, 20260301, tmp_path, fuzz.KINDS)
    assert sum(found.cases.values()) == CASES
    assert all(found.cases[kind.name] > 3 for kind in fuzz.KINDS)
    assert (dict(found.faults), found.doings) == ({}, [])
    assert sum(found.refused.values()) > CASES / 3  # most of it was spoilt indeed


def test_the_campaign_would_find_what_it_looks_for(fuzz: Any, tmp_path: Path) -> None:
    def bad(data: bytes, _: Path) -> None:
        match data[:1]:
            case b"t":
                raise KeyError("a traceback")
            case b"h":
                while True:
                    pass
            case b"w":
                (Path(__file__).parent / "never").open("xb").close()
                (Path(__file__).parent / "never").unlink()
            case b"c":
                eval("1 + 1")
            case b"m":
                bytearray(4 << 30)

    found, watch = fuzz.Found(), fuzz.Watch(tmp_path)
    kind = fuzz.Kind("bad", 1, lambda _: [], bad)
    with fuzz.bounded():
        for data in (b"t", b"h", b"w", b"c", b"m", b"fine"):
            fuzz.one(kind, data, tmp_path, found, watch)
    faults = sorted(what.split(" in ")[0] for _, what in found.faults)
    assert faults == ["KeyError", "MemoryError", "hang"]
    assert len(found.doings) == 2
    assert found.cases["bad"] == 6


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 5000, "a = " + "9" * 5000, "a = [{b = " + "9" * 400 + "}]", "a." * 30_000 + "b = 1"],
    ids=["nested", "digits", "64 bits", "dots"],
)
def test_toml_that_the_standard_reader_stumbles_over_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.toml"
    path.write_text(text)
    for load in (plan.load, criterion.load, import_map.load, lambda p: budget_file.load(p, lambda *_: None)):
        with pytest.raises(Refusal, match="not valid TOML"):
            load(path)


@pytest.mark.parametrize(
    "load",
    [plan.load, criterion.load, import_map.load, lambda p: budget_file.load(p, lambda *_: None)],
    ids=["plan", "criterion", "map", "budget"],
)
@pytest.mark.skipif(os.name != "posix", reason="there is no /dev/zero")
def test_a_file_without_end_is_not_read_to_its_end(load: Any) -> None:
    with pytest.raises(Refusal):
        load(Path("/dev/zero"))


def test_answers_without_end_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(answers_csv, "LARGEST", 1000)
    path = tmp_path / "a.csv"
    path.write_text("person,truth_tenths,answer_tenths\n" + "Ana,1,1\n" * 200)
    with pytest.raises(Refusal, match="split it"):
        answers_csv.read(path)


POISON = (
    ("UPDATE acts SET hash = 1000000000000 WHERE seq = 2", "has been changed"),
    ("UPDATE acts SET digest = 'text' WHERE seq = 4", "has been changed"),
    ("UPDATE chains SET hash = 1000000000000", "the head of chain"),
    ("UPDATE chains SET seq = 'x'", "a record is none that this program wrote"),
    ("UPDATE items SET position_tenths = 'x'", "digest|dealt|changed|none that"),
)


@pytest.mark.parametrize(("statement", "words"), POISON)
def test_values_of_another_kind_are_found_and_not_stumbled_over(
    tmp_path: Path, statement: str, words: str
) -> None:
    """SQLite keeps any kind of value in any column (https://www.sqlite.org/datatype3.html, 3)."""
    place = tmp_path / "a.tenthwise"
    with Archive.open(place) as archive:
        session = archive.begin_session(archive.add_person("Ana"), PLAN, ITEMS, HEADER)
        archive.save_answer(session, answer(1))
    plain = sqlite3.connect(place)
    plain.execute(statement)
    plain.commit()
    plain.close()
    with Archive.open(place, create=False) as archive:
        report = check(archive.store)
        assert any(re.search(words, finding) for finding in report.findings), report.findings
        if "items" in statement:
            with pytest.raises(DamagedArchive, match="archive check"):
                archive.answers()


def test_a_list_in_place_of_a_word_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text('model = "a"\n[inputs.a]\nvalue = 1\ndistribution = ["x"]\nu = 1\n')
    with pytest.raises(Refusal, match="distribution"):
        budget_file.load(path, lambda *_: None)


@pytest.mark.parametrize("log2_n", [9, 18, 20, 40, True, "16"])
def test_a_key_file_cannot_ask_for_much_time_or_memory(log2_n: object) -> None:
    settings = {"log2_n": log2_n, "r": keys.SCRYPT_R, "p": keys.SCRYPT_P, "salt": keys.to_base64(bytes(16))}
    with pytest.raises(Refusal, match="scrypt settings"):
        keys.stretched("x", settings)


def test_what_no_engine_can_store_is_shown_as_replaced() -> None:
    """Lone surrogates, U+D800 to U+DFFF (The Unicode Standard, 3.8, D71 and D73), and NUL."""
    for lone in (0, 0xD800, 0xDBFF, 0xDC00, 0xDFFF):
        assert plain_text(f"7{chr(lone)}3") == "7\ufffd3"
    assert plain_text("\ud7ff\ue000") == "\ud7ff\ue000"
