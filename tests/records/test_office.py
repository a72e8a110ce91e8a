"""What the sign-off's office says of people without a statement in force."""

import dataclasses
from pathlib import Path

from tests.records.conftest import HEADER, ITEMS, PLAN
from trainer.records import office
from trainer.records.archive import Archive


def test_checks_taken_are_counted_and_bench_checks_are_none(tmp_path: Path) -> None:
    with Archive.open(tmp_path / "a") as archive:
        for name, drills in (
            ("Ana", ()),
            ("Bo", ("bench-check",)),
            ("Cy", ("full-reading", "bench-check")),
            ("Di", ("full-reading", "full-reading")),
        ):
            person = archive.add_person(name)
            for drill in drills:
                archive.begin_session(person, PLAN, ITEMS, dataclasses.replace(HEADER, drill=drill))
        assert [why for _, why in office.may_not_sign(archive)] == [
            "no check taken yet",
            "no check taken yet",
            "1 check taken, not signed off",
            "2 checks taken, not signed off",
        ]
