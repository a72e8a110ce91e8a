"""One person on the screen and on the bench, found in the archive and told in lines."""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.commands.evidence import NoEvidence, Wanted, gather
from trainer.commands.score_numbers import number
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.scoring.transfer import Transfer


def found(archive: "Archive", person: str, wanted: Wanted) -> "Transfer":
    """Return a person's screen against their bench on one instrument; `wanted.setting` is not looked at.

    Raises NoEvidence where there are no readings on one side, UnknownPerson, or a Refusal for what is unclear
    (several instruments read on the bench and none named).
    """
    from trainer.scoring import transfer
    from trainer.scoring.reference import ReferenceUncertainty

    bench = gather(
        archive, person, replace(wanted, setting="bench", instrument=_instrument(archive, person, wanted))
    )
    screen = gather(archive, person, replace(wanted, setting="screen", instrument=bench.instrument))
    reference = bench.reference or ReferenceUncertainty(0.0)
    return transfer.compare(screen.answers, bench.answers, reference, instrument=bench.instrument)


def _instrument(archive: "Archive", person: str, wanted: Wanted) -> str | None:
    """Return the instrument asked for, else the only one that the person read on the bench."""
    from trainer.practice.results import BENCH

    if wanted.instrument is not None:
        return wanted.instrument
    sessions = archive.sessions(archive.person(person), drill=BENCH)
    read = sorted(sessions["instrument"].unique())
    if not read:
        name = archive.person(person).name
        raise NoEvidence(f"{name} has no bench check; take one with `tenthwise bench`, then compare")
    if len(read) > 1:
        raise Refusal(f"there are bench checks on several instruments ({', '.join(read)}); name --instrument")
    return str(read[0])


def found_if_any(archive: "Archive", person: str, wanted: Wanted) -> "Transfer | None":
    """Return the comparison, or None where one of both sides has no readings."""
    from trainer.scoring.pairs import UnusablePair

    try:
        return found(archive, person, wanted)
    except (NoEvidence, UnusablePair):
        return None


def lines(result: "Transfer") -> Iterator[str]:
    """Yield the comparison as lines for the terminal."""
    from trainer.reports.wording import true_minus

    for sentence in result.sentences():
        yield true_minus(f"{sentence[:1].upper()}{sentence[1:]}.")
    if result.alike_within_tenths is not None:
        within = f"{result.alike_within_tenths:.2f} tenths"
        yield f"In these sessions both biases agree within {within} (5 % risk)."
    days = result.across_sessions_tenths
    if days is not None and days.low is not None:
        value, low, high = (number(end, signed=True) for end in (days.value, days.low, days.high))
        yield f"Across sessions the difference is {value} tenths (95 %: {low} to {high})."
    yield (
        f"Readings: {result.screen.used} on the screen, {result.bench.used} on the bench"
        f"{f', {result.instrument}' if result.instrument else ''}."
    )
    for note in result.notes:
        yield f"Note: {note}."
