"""The keys of printed sheets in the archive, found by number; who has been marked; on both engines."""

import dataclasses

import numpy as np
from sqlalchemy import event

from tests.records.conftest import HEADER
from trainer.practice.sheets import make
from trainer.records import sheets
from trainer.records.archive import Archive


def statements_of(archive: Archive, work: object) -> list[str]:
    """Return the statements that some work sends to the engine."""
    sent: list[str] = []

    def keep(_connection, _cursor, statement, *_rest) -> None:  # type: ignore[no-untyped-def]
        sent.append(statement)

    event.listen(archive.store.engine, "before_cursor_execute", keep)
    work()  # type: ignore[operator]
    event.remove(archive.store.engine, "before_cursor_execute", keep)
    return sent


def test_a_class_is_found_in_one_pass_and_a_sheet_by_its_number(archive: Archive) -> None:
    made = [make("metric", 12, np.random.default_rng(seed)) for seed in range(20)]
    for one in made:
        sheets.keep(archive, {**one.to_dict(), "magnification": 1.0})
    wanted = {one.number for one in made[3:9]}
    found: dict[str, object] = {}
    sent = statements_of(archive, lambda: found.update(sheets.find_all(archive, wanted)))
    assert len([statement for statement in sent if statement.startswith("SELECT")]) == 1
    assert set(found) == wanted
    for one in made[3:9]:
        assert found[one.number] == {**one.to_dict(), "magnification": 1.0}
    assert sheets.find(archive, made[0].number) == {**made[0].to_dict(), "magnification": 1.0}
    assert sheets.find(archive, "ABC-DEFG") is None
    assert sheets.find_all(archive, []) == {}


def test_what_was_marked_is_told_by_person(archive: Archive) -> None:
    sheet = make("metric", 12, np.random.default_rng(1))
    ana, bo = archive.add_person("Ana"), archive.add_person("Bo")
    items = [item.to_dict() for item in sheet.items]
    first = archive.begin_session(ana, sheet.plan.to_dict(), items, HEADER)
    second = archive.begin_session(ana, sheet.plan.to_dict(), items, HEADER)
    other = {**sheet.plan.to_dict(), "title": f"Printed sheet {sheet.number} of another make"}
    stranger = archive.begin_session(ana, other, items, HEADER)
    for session in (first, second, stranger):
        archive.end_session(session, "finished", "2026-03-02T09:30:00Z")
    archive.begin_session(ana, sheet.plan.to_dict(), items, HEADER)  # broken off while it was kept
    assert sorted(sheets.marked(archive, sheet.number, ana.id)) == sorted([first, second])
    assert sheets.marked(archive, sheet.number, bo.id) == []


def test_which_sessions_were_read_from_paper(archive: Archive) -> None:

    sheet = make("metric", 12, np.random.default_rng(1))
    ana = archive.add_person("Ana")
    items = [item.to_dict() for item in sheet.items]
    paper = dataclasses.replace(HEADER, px_per_mm=None, for_record=False)
    on_paper = archive.begin_session(ana, sheet.plan.to_dict(), items, paper)
    archive.begin_session(ana, sheet.plan.to_dict(), items, HEADER)  # with pixels: from the screen
    archive.begin_session(ana, {**sheet.plan.to_dict(), "name": "check"}, items, paper)
    assert sheets.sessions_of(archive) == {on_paper}
