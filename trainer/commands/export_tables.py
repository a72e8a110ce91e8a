"""Exports that are worked out: statistics, sign-offs with their standing, screen against bench."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.reports.workbook import Table
    from trainer.scoring.person import PersonScore

STATISTICS, SIGNOFFS, TRANSFER = WORKED_OUT = ("statistics", "signoffs", "transfer")
OPTIONS = {  # filter: the option that gives it
    "session": "--session", "instrument": "--instrument", "drill": "--drill", "conditions": "--condition",
    "for_record": "--checks", "since": "--since", "until": "--until",
}  # fmt: skip
OF_SESSIONS = ("session", "drill", "conditions")
# export: its name in words, the filters that say nothing of it, and those that do
FOREIGN: dict[str, tuple[str, tuple[str, ...], str]] = {
    "people": ("people", tuple(OPTIONS), "--person"),
    SIGNOFFS: (
        "sign-offs",
        (*OF_SESSIONS, "instrument", "for_record"),
        "--person, --since and --until (the date of signing)",
    ),
    TRANSFER: ("screen against bench", OF_SESSIONS, "--person, --instrument, --since and --until"),
}
MOST_DRAWN = 60  # people in a picture; all of them are in the rows
ABOUT = (
    "One row a person, instrument and setting, of whole readings. Errors are answer minus truth; "
    "misreads are set apart and counted. Readings under other conditions than clear sight are left out "
    "unless asked for."
)


def refuse_filters(what: str, wanted: Mapping[str, Any]) -> None:
    """Raise a Refusal where a filter is given that says nothing of what is exported."""
    words, foreign, known = FOREIGN.get(what, ("", (), ""))
    named = [OPTIONS[name] for name in foreign if wanted.get(name)]
    if named:
        raise Refusal(f"{words} cannot be filtered by {named[0]}; filter by {known}")


def table(archive: "Archive", what: str, wanted: dict[str, Any]) -> "tuple[Table, bytes | None]":
    """Return the statistics or sign-offs as a table, and a figure as PNG where there is one to draw."""
    if what == SIGNOFFS:
        return _signoffs(archive, wanted), None
    if what == TRANSFER:
        from trainer.commands import export_transfer

        return export_transfer.table(archive, wanted), None
    scores, rows = _scores(archive, wanted)
    from trainer.reports import people_workbook
    from trainer.reports.workbook import Field, Table

    plain = people_workbook.table(scores)
    setting = Field("setting", "Where the readings were taken: screen, sheet (printed) or bench.")
    counted = Field("counted", "Which sessions: checks for the record only, or practice as well.")
    words = "checks" if wanted.get("for_record") else "practice and checks"
    fields = [*plain.fields[:2], setting, counted, *plain.fields[2:]]
    body = [[*row[:2], where, words, *row[2:]] for row, where in zip(plain.rows, rows, strict=True)]
    return Table(STATISTICS, fields, body, ABOUT), _drawn(scores, rows)


def figure(archive: "Archive", wanted: dict[str, Any]) -> bytes | None:
    """Return everybody's bias and spread of what is wanted as a PNG picture, None without whole readings."""
    return _drawn(*_scores(archive, wanted))


def _drawn(scores: "list[PersonScore]", settings: list[str]) -> bytes | None:
    """Return the picture; whoever is in it more than once is told apart by instrument and setting."""
    from trainer.reports import people_workbook

    names = [score.person for score in scores]
    shown = [
        replace(score, person=f"{score.person} ({score.instrument}, {where})")
        if names.count(score.person) > 1
        else score
        for score, where in zip(scores[:MOST_DRAWN], settings, strict=False)
    ]
    return people_workbook.people_png(shown) if shown else None


def _scores(archive: "Archive", wanted: dict[str, Any]) -> "tuple[list[PersonScore], list[str]]":
    """Return the scores of everybody's whole readings and where each was taken; settings are never pooled."""
    from trainer.commands.evidence import SETTINGS, settings_of
    from trainer.practice.results import set_apart
    from trainer.scoring.table import score_people

    answers = archive.answers(**wanted)
    where = answers["session"].map(settings_of(archive, archive.sessions(**wanted)))
    if wanted.get("conditions") is None:
        answers, _ = set_apart(answers)
    scores: list[PersonScore] = []
    settings: list[str] = []
    for setting in reversed(SETTINGS):
        rows = answers[where.reindex(answers.index) == setting]
        if (rows["outcome"] == "answered").any():
            found = score_people(rows, by_instrument=True).people
            scores += found
            settings += [setting] * len(found)
    return scores, settings


def _signoffs(archive: "Archive", wanted: dict[str, Any]) -> "Table":
    """Return the statements with their standing now."""
    from trainer.records import office
    from trainer.reports.workbook import Field, Table

    team = wanted.get("team")
    ids = None if team is None else {archive.person(name).id for name in team}
    today = {one.id: one.name for one in archive.people(include_archived=True)}
    rows = []
    for kept, present in office.due(archive):
        body = kept.document["body"]
        signed = str(body["signed_at"])
        if ids is not None and body["person"]["id"] not in ids:
            continue
        if signed < (wanted.get("since") or "") or signed >= (wanted.get("until") or "9"):
            continue
        rows.append(
            (
                today.get(body["person"]["id"], body["person"]["name"]),
                body["id"], body["criterion"]["name"], body["criterion"]["title"],
                body["criterion"]["sha256"], body["attempt"]["number"], len(body["evidence"]), signed,
                body["supervisor"]["account"], present.state,
                present.in_force, present.since.isoformat(), present.due_at.isoformat(),
                present.valid_until.isoformat(), present.reason, "; ".join(present.conditions),
                present.sentence,
            )
        )  # fmt: skip
    fields = [
        Field("person", "Name of the person as the archive has it now; a code once it was taken out."),
        Field("statement", "Number of the signed statement."),
        Field("criterion", "Name of the criterion."),
        Field("criterion_title", "Title of the criterion."),
        Field("criterion_sha256", "SHA-256 of the criterion's text that the statement carries."),
        Field("attempt", "Which attempt was signed."),
        Field("sessions", "How many sessions are its evidence."),
        Field("signed_at", "When it was signed, ISO 8601 UTC."),
        Field("signed_by", "Account of the supervisor who signed."),
        Field("standing", "Where it stands at the time of the export."),
        Field("in_force", "True where it may be relied on now."),
        Field("since", "Since when it stands so, ISO 8601 UTC."),
        Field("due_at", "When the next monitoring check is due, ISO 8601 UTC."),
        Field("valid_until", "When it lapses without renewal, ISO 8601 UTC."),
        Field("reason", "Why it stands so, where there is a reason."),
        Field("conditions", "Conditions set by a supervisor."),
        Field("sentence", "The standing in a sentence."),
    ]
    return Table(SIGNOFFS, fields, rows, "Signed statements with their standing when this was written.")
