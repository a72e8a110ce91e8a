"""Files that appear whole or not at all, whatever ends the writing."""

import os

import pytest

from trainer.instrument.whole_file import whole_file, write_whole


def test_a_file_is_replaced_in_one_step(tmp_path):
    target = tmp_path / "sheet ñ 1.csv"
    target.write_bytes(b"old")
    with whole_file(target) as temporary:
        temporary.write_bytes(b"half of the new")
        assert target.read_bytes() == b"old"
    assert target.read_bytes() == b"half of the new"
    assert write_whole(target, b"whole") == target
    assert target.read_bytes() == b"whole"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("end", [OSError("disk full"), KeyboardInterrupt(), ValueError("a fault")])
def test_what_was_there_stays_and_nothing_is_left_when_the_writing_ends_early(tmp_path, end):
    target = tmp_path / "a.csv"
    target.write_bytes(b"old")

    def write_half():
        with whole_file(target) as temporary:
            temporary.write_bytes(b"half")
            raise end

    with pytest.raises(type(end)):
        write_half()
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_missing_folder_and_a_folder_in_the_place_are_refused(tmp_path):
    with pytest.raises(OSError, match="No such file"):
        write_whole(tmp_path / "no" / "a.csv", b"x")
    (tmp_path / "taken").mkdir()
    with pytest.raises(OSError):  # noqa: PT011 - the words differ between systems
        write_whole(tmp_path / "taken", b"x")
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


@pytest.mark.skipif(os.name != "posix", reason="on Windows a file has the rights of its folder")
@pytest.mark.parametrize(("mask", "usual"), [(0o022, 0o644), (0o002, 0o664), (0o077, 0o600)])
def test_others_may_read_what_they_may_read_of_this_user_but_nothing_private(tmp_path, mask, usual):
    before = os.umask(mask)
    try:
        write_whole(tmp_path / "report.pdf", b"x")
        with whole_file(tmp_path / "own.key", private=True) as temporary:
            assert temporary.stat().st_mode & 0o777 == 0o600
    finally:
        os.umask(before)
    assert (tmp_path / "report.pdf").stat().st_mode & 0o777 == usual
    assert (tmp_path / "own.key").stat().st_mode & 0o777 == 0o600
