"""What goes wrong at a sign-off: passphrases, key files, criteria, foreign sessions, clocks and zones."""

import subprocess
import sys
from datetime import timedelta, timezone
from pathlib import Path

import pytest

from tests.commands.laboratory import BEN, RUTH, Laboratory, Reader
from trainer.practice import plans
from trainer.records import engine
from trainer.records.archive import Archive
from trainer.records.values import SessionHeader
from trainer.signoff import criteria


@pytest.fixture
def lab(tmp_path, monkeypatch, capsys):
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up("Kim Vale")
    return made


SAME = "tenthwise: the account and the passphrase do not go together; try again\n"


def test_a_wrong_passphrase_gives_no_hint_which_part_is_wrong(lab):
    check = ["signoff", "check", "Kim Vale", "--key-file", "ben.key"]
    lab.patch.setenv("TENTHWISE_PASSPHRASE", "nothing of the kind")
    assert lab.refused(*check, "--as", BEN) == SAME
    assert lab.refused(*check, "--as", "Nobody") == SAME  # no such account
    assert lab.refused(*check, "--as", RUTH) == SAME  # another account than the key file's


def test_the_delay_grows_for_one_account_and_keeps_nobody_else_out(lab):
    def tried(by, phrase):
        lab.patch.setenv("TENTHWISE_PASSPHRASE", phrase)
        file = f"{by.split()[0].lower()}.key"
        return lab.run("signoff", "check", "Kim Vale", "--as", by, "--key-file", file)

    waits = []
    for _ in range(8):
        told = tried(BEN, "nothing of the kind")[2]
        if "try again in" in told:
            seconds = int(told.split("try again in ")[1].split()[0])
            waits.append(seconds)
            lab.later(seconds=seconds)
    assert waits == [2, 4, 8]
    assert tried(BEN, "nothing of the kind")[2] == SAME
    assert tried(BEN, "harbour pickle quartz dune")[0] == 1  # the right one has to wait as well
    assert tried(RUTH, "lantern orbit velvet nine")[0] == 0
    lab.later(minutes=15)
    assert tried(BEN, "harbour pickle quartz dune")[0] == 0


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (None, "have another supervisor recover the account"),
        ("", "it is not JSON"),
        ("{}", "it is not a key file of this program"),
        ('{"format": "tenthwise-private-key-1"}', "take it from a backup, or recover the account"),
    ],
)
def test_a_lost_or_damaged_key_file_is_told_with_the_way_out(lab, content, word):
    Path("ben.key").unlink()
    if content is not None:
        Path("ben.key").write_text(content, encoding="utf-8")
    told = lab.refused("signoff", "check", "Kim Vale", by=BEN)
    assert word in told
    assert told.startswith("tenthwise: ben.key: ")
    recover = ["signoff", "keys", "recover", BEN, "--reason", "lost", "--new-key-file", "ben2.key"]
    lab.done(*recover, by=RUTH, new=BEN)
    Path("ben.key").unlink(missing_ok=True)
    Path("ben2.key").rename("ben.key")
    lab.later(seconds=1)
    lab.done("signoff", "check", "Kim Vale", by=BEN)


def test_where_nothing_can_be_asked_the_passphrase_must_come_from_a_file(lab):
    """In a process of its own without a terminal: no prompt that echoes, one sentence."""
    asked = [
        sys.executable,
        "-m",
        "trainer",
        "signoff",
        "check",
        "Kim Vale",
        "--as",
        BEN,
        "--key-file",
        "ben.key",
    ]
    environment = {"TENTHWISE_ARCHIVE": lab.archive, "PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(
        asked, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
        env=environment, start_new_session=True,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1] == (
        "tenthwise: no passphrase was given; type it at a terminal, "
        "or use --passphrase-file or $TENTHWISE_PASSPHRASE"
    )
    assert "Traceback" not in done.stderr
    assert "echoed" not in done.stderr


def test_an_impossible_criterion_says_so_before_a_passphrase_is_asked_for(lab):
    text = criteria.find("first-level-metric").text
    edits = {
        "readings_at_most = 260": ("readings_at_most = 40", "readings_at_most"),
        "bias_tenths = 0.5": ("bias_tenths = 0.0", "it must be 0.1 to 5 tenths"),
        'plan = "check-metric"': ('plan = "no-such-plan"', "there is no plan"),
    }
    for old, (new, word) in edits.items():
        Path("odd.toml").write_text(text.replace(old, new), encoding="utf-8")
        assert word in lab.refused("signoff", "check", "Kim Vale", "-c", "odd.toml", by=RUTH)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (
            {"instrument": "inch"},
            "its instrument is inch: it reads in inches, and the criterion is for millimetres",
        ),
        ({"instrument": "metric-vernier"}, "it has a vernier, and the criterion is for scales without"),
        ({"feedback": True}, "it gave feedback, and a check gives none"),
        ({"drill": "tenths"}, "its drill is tenths, and the criterion is for full-reading"),
        ({"halves": True}, "it asked for half tenths"),
        ({"viewing": {"magnification": 2.0}}, "it was read with loupe"),
        ({"viewing": {"roll_deg": 40.0}}, "the scale was turned by 40 degrees"),
    ],
    ids=str,
)
def test_sessions_of_another_instrument_or_condition_are_refused_with_the_reason(lab, change, reason):
    plan = {**plans.find("check-metric").to_dict(), **change}
    header = SessionHeader(
        plan["instrument"], plan["drill"], plan["for_record"], 5, "test", "1",
        viewing=plan["viewing"], started_at="2026-03-03T08:00:00Z",
    )  # fmt: skip
    with Archive.open(create=False) as archive:
        archive.begin_session("Kim Vale", plan, [], header)
    out = lab.run("signoff", "status", "Kim Vale")[1]
    assert "no reading counts yet" in out
    assert reason in out


def test_a_station_that_changes_its_time_zone_makes_no_second_day(lab):
    """The clock's zone moves by 23 hours between two checks of one morning; the archive keeps UTC."""
    zones = {"west": timezone(timedelta(hours=-11)), "east": timezone(timedelta(hours=12))}
    here = "west"
    lab.patch.setattr(engine, "utc_now", lambda: lab.now.astimezone(zones[here]))
    lab.check(1)
    here = "east"
    lab.later(hours=1)
    ticket = lab.ticket()
    lab.patch.setattr("sys.stdin", Reader(lab, 2))
    lab.done(*lab.taking(ticket))
    assert "after 40 readings in 1 sitting" in lab.run("signoff", "status", "Kim Vale")[1]
    here = "west"
    lab.check(3)
    assert "after 60 readings in 2 sittings" in lab.run("signoff", "status", "Kim Vale")[1]
    with Archive.open(create=False) as archive:
        assert archive.sessions("Kim Vale")["started_at"].astype(str).str[:13].tolist() == [
            "2026-03-03T08", "2026-03-03T09", "2026-03-04T09",
        ]  # fmt: skip


def test_a_clock_that_stands_before_the_evidence_signs_nothing(lab):
    for seed in range(1, 5):
        lab.check(seed)
    lab.now -= timedelta(days=2)
    told = lab.refused("signoff", "sign", "Kim Vale", "--out", "kim.json", by=BEN)
    assert "set the clock right" in told
    assert not Path("kim.json").exists()
