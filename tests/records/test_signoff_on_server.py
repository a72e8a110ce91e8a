"""The sign-off on a server: the same commands, the same life, the same log."""

from tests.commands.laboratory import BEN, RUTH, Laboratory


def test_from_the_first_account_to_a_suspension(new_database, tmp_path, monkeypatch, capsys):
    lab = Laboratory(monkeypatch, capsys, tmp_path)
    lab.archive = new_database()
    monkeypatch.setenv("TENTHWISE_ARCHIVE", lab.archive)
    lab.set_up()
    for seed in range(4):
        lab.check(seed)
    lab.later(hours=1)
    lab.done("signoff", "status", "Kim Vale")
    lab.done("signoff", "sign", "Kim Vale", "--out", "kim.json", by=BEN)
    lab.done("verify", "kim.json", "--archive", lab.archive)
    listed = lab.done("signoff", "list")
    assert "Kim Vale" in listed
    number = listed.split()[0]
    lab.later(days=1)
    lab.done("signoff", "standing", number, "suspend", "--reason", "new glasses", by=RUTH)
    code, told, _ = lab.run("verify", "kim.json", "--archive", lab.archive)
    assert code == 1
    assert "suspended" in told
    assert lab.done("archive", "check", "--archive", lab.archive).startswith("the archive is whole")
