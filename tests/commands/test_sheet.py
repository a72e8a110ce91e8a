"""`tenthwise sheet` as its user runs it: files, keys, refusals."""

import json

import pypdf
import pytest

from trainer.commands.main import main
from trainer.records import sheets as kept
from trainer.records.archive import Archive
from trainer.signoff.passphrase import WrongPassphrase
from trainer.signoff.sealing import UnusableSealedFile, opened, sealed

PHRASE = "lorry pudding violin marble"


@pytest.fixture
def archive(tmp_path, monkeypatch):
    path = tmp_path / "a.sqlite"
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(path))
    monkeypatch.delenv("TENTHWISE_PASSPHRASE", raising=False)
    with Archive.open(path):
        return path


def made(capsys, *arguments):
    assert main(["sheet", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_different_sheets_each_in_a_file_with_keys_in_the_archive(archive, tmp_path, capsys):
    out = tmp_path / "new" / "class"
    result = made(capsys, "--sheets", "5", "--readings", "12", "--magnification", "1,5", "--out", str(out))
    assert len(set(result["sheets"])) == 5
    assert sorted(p.name for p in out.iterdir()) == sorted(f"sheet-{n}.pdf" for n in result["sheets"])
    assert result["printer_dot_tenths"] == pytest.approx(0.4233 / 1.00531 / 1.5, rel=1e-3)
    with Archive.open(archive) as kept_in:
        keys = [kept.find(kept_in, number) for number in result["sheets"]]
    assert {key["magnification"] for key in keys} == {1.5}
    positions = [tuple(item["position_tenths"] for item in key["items"]) for key in keys]
    assert len(set(positions)) == 5
    assert {len(p) for p in positions} == {12}


def test_a_booklet_is_one_file(archive, tmp_path, capsys):
    result = made(capsys, "--sheets", "3", "--booklet", "--paper", "letter", "--out", str(tmp_path))
    (file,) = result["files"]
    assert len(pypdf.PdfReader(file).pages) == 4


def test_keys_can_be_sealed_in_a_file_instead(archive, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", PHRASE)
    key_file = tmp_path / "class.keys"
    arguments = ["--sheets", "2", "--out", str(tmp_path / "s"), "--key-file", str(key_file)]
    result = made(capsys, *arguments)
    text = key_file.read_text()
    inside = json.loads(opened(text, "keys of printed sheets", PHRASE, "it"))
    assert [key["number"] for key in inside["sheets"]] == result["sheets"]
    assert not any(number in text for number in result["sheets"])
    with Archive.open(archive) as kept_in:
        assert [kept.find(kept_in, number) for number in result["sheets"]] == [None, None]
    assert main(["sheet", *arguments]) == 1
    assert "there already" in capsys.readouterr().err
    assert key_file.read_text() == text


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--paper", "a3"], "paper is 'a3'; choose from a4, letter"),
        (["--magnification", "0.2"], "give a number from 1"),
        (["--magnification", "twice"], "--magnification: 'twice' is not a number"),
        (["--readings", "40", "--magnification", "2"], "do not fit on A4; choose at most"),
        (["--readings", "11"], "12 to 40"),
        (["--sheets", "0"], "--sheets is 0; make 1 to 500"),
        (["--instrument", "calliper"], "calliper"),
    ],
)
def test_refusals_leave_nothing(archive, tmp_path, capsys, arguments, why):
    out = tmp_path / "out"
    assert main(["sheet", *arguments, "--out", str(out)]) == 1
    said = capsys.readouterr().err
    assert why in said
    assert said.count("\n") == 1
    assert not out.exists()


def test_a_file_in_the_folders_place_and_a_weak_passphrase(archive, tmp_path, capsys, monkeypatch):
    (tmp_path / "file").write_text("x")
    assert main(["sheet", "--out", str(tmp_path / "file")]) == 1
    assert "is a file; name a folder" in capsys.readouterr().err
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", "short")
    key_file = tmp_path / "keys"
    assert main(["sheet", "--out", str(tmp_path / "s"), "--key-file", str(key_file)]) == 1
    assert "at least 14" in capsys.readouterr().err
    assert not key_file.exists()
    assert list((tmp_path / "s").glob("*")) == []


def test_a_sealed_text_opens_with_its_passphrase_only():
    text = sealed("7.384", "keys", PHRASE, random_bytes=lambda n: bytes(range(n)), log2_n=10)
    assert opened(text, "keys", PHRASE, "f") == "7.384"
    assert "7.384" not in text
    with pytest.raises(WrongPassphrase, match="f: this passphrase does not open it"):
        opened(text, "keys", PHRASE + "s", "f")
    with pytest.raises(WrongPassphrase):  # the salt is covered too: every byte but white space counts
        opened(text.replace('"salt":"A', '"salt":"B'), "keys", PHRASE, "f")
    with pytest.raises(UnusableSealedFile, match="not a sealed file of other"):
        opened(text, "other", PHRASE, "f")
    for broken in ("", "{}", "[1]", text[:-30], text.replace('"sealed":"', '"sealed":"!')):
        with pytest.raises(UnusableSealedFile, match="^f: "):
            opened(broken, "keys", PHRASE, "f")
