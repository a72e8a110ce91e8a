"""`tenthwise mark`: the answers of printed sheets, scored and kept as any other session."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.mark_file import Handed, class_answers, typed_answers
from trainer.commands.options import ArchiveOption, JsonOption, SheetKeysOption
from trainer.commands.passphrases import PassphraseFile, passphrase
from trainer.practice.sheets import Sheet, UnusableSheet, checked_number, read_answers

if TYPE_CHECKING:
    from trainer.commands.sheet_keys import Known
    from trainer.practice.items import Answer
    from trainer.records.archive import Archive
    from trainer.records.values import Person

FAR_TURNS = 2  # an answer farther off than this fits no common misread of one turn


@dataclass(frozen=True, slots=True)
class Marked:
    """A sheet that was found good: who read it, and the answers."""

    person: "Person"
    sheet: Sheet
    key: Mapping[str, Any]
    answers: "tuple[Answer, ...]"
    before: tuple[str, ...]  # sessions under which this person's answers to it were kept earlier
    same: str = ""  # of them the one with the same answers, where a class is marked anew


def mark(
    number: Annotated[
        str | None, typer.Argument(metavar="SHEET-NUMBER", help="The number at the head of the sheet.")
    ] = None,
    person: Annotated[str | None, typer.Option("--person", "-p", help="Who read the sheet.")] = None,
    answers: Annotated[
        str | None,
        typer.Option(metavar="TEXT|FILE|-", help="The answers in order; a file or - has one a line."),
    ] = None,
    whole_class: Annotated[
        Path | None,
        typer.Option("--class", metavar="FILE", help="CSV with columns sheet, person, item, answer."),
    ] = None,
    again: Annotated[
        str | None, typer.Option("--again", metavar="REASON", help="Mark once more; the reason is kept.")
    ] = None,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Take answers that seem to belong to another sheet.")
    ] = False,
    key_file: SheetKeysOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Mark printed sheets: score the answers and keep them as a session.

    Example: tenthwise mark K7M-P3XY --person Kim --answers "7.384 12.106 - 3.990 …"

    A dash, or an empty line in a file, is a reading that was skipped. Of a class everything is checked
    before anything is kept; what was marked already with the same answers is passed over.
    """
    from trainer.commands import sheet_keys
    from trainer.records.archive import Archive

    handed = _handed(number, person, answers, whole_class)
    if again is not None and not again.strip():
        raise UnusableSheet("--again needs a reason; say why the sheet is marked once more")
    keys = None
    if key_file is not None:
        sheet_keys.refuse_missing(key_file)
        keys = sheet_keys.read(key_file, passphrase(passphrase_file, whose=key_file.name))
    with Archive.open(archive, create=False) as opened:
        known = sheet_keys.known(opened, {one.number for one in handed}, keys)
        good = [_checked(opened, one, known, again=again is not None, even_so=even_so) for one in handed]
        sessions = [one.same or keep(opened, one, again) for one in good]
        _print(opened, good, sessions, as_json=json)


def _handed(number: str | None, person: str | None, answers: str | None, file: Path | None) -> list[Handed]:
    """Return what was handed in; a mixture of the two ways is wrong usage."""
    if file is not None:
        if number is not None or person is not None or answers is not None:
            raise typer.BadParameter("--class names sheets and people itself; leave out the others")
        return class_answers(file)
    if number is None or person is None or answers is None:
        raise typer.BadParameter("give SHEET-NUMBER, --person and --answers, or --class FILE")
    texts = typed_answers(answers)
    return [Handed(checked_number(number), person, dict(enumerate(texts, start=1)))]


def _checked(
    archive: "Archive",
    handed: Handed,
    known: "Known",
    *,
    again: bool,
    even_so: bool,
) -> Marked:
    """Return a sheet that can be kept; raise `UnusableSheet` or another refusal for one that cannot."""
    from trainer.commands import sheet_keys
    from trainer.commands.sitting import utc_now
    from trainer.records import sheets as kept

    person = archive.person(handed.person)
    key = known.key_of(handed.number)
    sheet = sheet_keys.sheet_of(key)
    if handed.where:
        texts = handed.in_order(len(sheet.items))
    else:
        texts = [handed.texts[n] for n in sorted(handed.texts)]
    try:
        answers = read_answers(sheet, texts, utc_now())
    except UnusableSheet as fault:
        raise UnusableSheet(
            f"{handed.where}{fault} ({person.name})" if handed.where else str(fault)
        ) from None
    before = tuple(kept.marked(archive, sheet.number, person.id))
    same = _same(archive, before, answers) if handed.where and not again else ""
    if before and not again and not same:
        raise UnusableSheet(
            f"{handed.where}sheet {sheet.number} of {person.name} is marked already; "
            "with --again REASON it is marked once more, and both stay"
        )
    if not even_so:
        _refuse_misfit(sheet, answers, handed.where, person.name)
    return Marked(person, sheet, key, answers, before, same)


def _same(archive: "Archive", before: Sequence[str], answers: "Sequence[Answer]") -> str:
    """Return the session that holds these very answers, so that a class broken off can be marked anew."""
    given = [(one.number, one.typed, one.outcome) for one in answers]
    for session in before:
        held = sorted(archive.session(session).answers, key=lambda one: one.number)
        if [(one.number, one.typed, one.outcome) for one in held] == given:
            return session
    return ""


def _refuse_misfit(sheet: Sheet, answers: "Sequence[Answer]", where: str, name: str) -> None:
    """Refuse answers most of which lie so far off that they were hardly read from this sheet."""
    from trainer.instrument import catalogue

    far = FAR_TURNS * catalogue.load(sheet.instrument).turn_tenths
    errors = [
        abs(answer.answer_tenths - item.position_tenths)
        for answer, item in zip(answers, sheet.items, strict=True)
        if answer.answer_tenths is not None
    ]
    count = sum(error > far for error in errors)
    if 2 * count > len(errors):
        raise UnusableSheet(
            f"{where}{count} of {len(errors)} answers by {name} are far from the readings of sheet "
            f"{sheet.number}; check the sheet's number and the order, or take them with --even-so"
        )


def keep(archive: "Archive", marked: Marked, again: str | None) -> str:
    """Keep a marked sheet as a session and return its id."""
    from trainer import __version__
    from trainer.commands.sitting import utc_now
    from trainer.drawing.painter import DRAWING_VERSION
    from trainer.records import sheets as kept
    from trainer.records.values import SessionHeader

    plan = marked.sheet.plan
    header = SessionHeader(
        instrument=plan.instrument,
        drill=plan.drill,
        for_record=False,
        seed=0,
        program_version=__version__,
        drawing_version=DRAWING_VERSION,
        viewing=_seen(float(marked.key.get("magnification", 1.0))),
        px_per_mm=None,
        started_at=utc_now(),
    )
    items = [item.to_dict() for item in marked.sheet.items]
    session = archive.begin_session(marked.person, plan.to_dict(), items, header)
    if marked.before:
        detail = {"reason": again, "before": list(marked.before)}
        archive.note(session, "sheet-marked-again", utc_now(), detail)
    for answer in marked.answers:  # how long each took is not known on paper
        archive.save_answer(session, {**answer.to_dict(), "seconds": None})
    archive.end_session(session, "finished", utc_now())
    kept.mark(archive, marked.sheet.number, session)
    return session


def _seen(magnification: float) -> dict[str, str]:
    """Return how a sheet was seen, in words: enlarged print is set apart from what stands for clear sight."""
    return {} if magnification == 1 else {"conditions": f"printed {magnification:g} times true scale"}


def _print(archive: "Archive", good: Sequence[Marked], sessions: Sequence[str], *, as_json: bool) -> None:
    import pandas as pd

    from trainer.commands.score import print_scores
    from trainer.scoring.table import score_people

    answers = pd.concat([archive.answers(session=session) for session in sessions], ignore_index=True)
    scores = score_people(answers) if (answers["outcome"] == "answered").any() else None
    if as_json:
        from trainer.commands.output import print_json

        listed = [
            {"sheet": one.sheet.number, "person": one.person.name, "session": session}
            for one, session in zip(good, sessions, strict=True)
        ]
        print_json({**(scores.to_dict() if scores else {"people": []}), "sheets": listed})
        return
    if scores is None:
        typer.echo("kept, but every reading was skipped, so there is nothing to score")
        return
    print_scores(scores)
    if there := sum(bool(one.same) for one in good):
        typer.echo(f"{there} of {len(good)} sheets were marked already with the same answers; kept once")
    typer.echo("Read from paper; to be confirmed on a real instrument, as the laboratory's procedures say.")
