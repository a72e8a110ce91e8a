"""Which criterion's limits the window shows for a person: the one last used, or else a shipped one."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from trainer.desktop.limits import Limits
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.signoff import criteria
from trainer.signoff.criterion import Criterion, parse

DRILL = "full-reading"  # the skill whose bias and spread the figures show


def limits_of(archive: Any, person: Any, instruments: Sequence[str]) -> Mapping[str, Limits]:
    """Return the limits for each instrument that a criterion speaks of, by the instrument's name.

    First those of the person's statements and checks, the newest before the others; then the shipped
    criteria in their order. An instrument that none speaks of has no limits.
    """
    known = [(c, True) for c in _used(archive, person)] + [(c, False) for c in criteria.shipped()]
    found: dict[str, Limits] = {}
    for name in instruments:
        if name not in catalogue.names():
            continue
        micrometer = catalogue.load(name)
        for criterion, used in known:
            if DRILL in criterion.scope.drills and not criterion.scope.refuses(micrometer):
                found[name] = Limits(criterion.title, criterion.bias_tenths, criterion.spread_tenths, used)
                break
    return found


def _used(archive: Any, person: Any) -> Iterator[Criterion]:
    """Yield the criteria of a person's statements and checks, newest first; unreadable ones are left out."""
    from trainer.records import documents, statements

    kept = [
        one
        for kind in (statements.STATEMENT, statements.TICKET)
        for one in documents.listed(archive, kind, person.id)
    ]
    for one in sorted(kept, key=lambda one: one.at, reverse=True):
        try:
            named = one.document["body"]["criterion"]
            yield parse(named["text"], named["name"]) if isinstance(named, Mapping) else criteria.find(named)
        except (Refusal, LookupError, TypeError):
            continue
