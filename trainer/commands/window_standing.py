"""Where people stand in the sign-off, from an archive, as the values that the window shows."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.desktop import signing
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.signoff.attempts import History
    from trainer.signoff.criterion import Criterion
    from trainer.signoff.decision import Decision
    from trainer.signoff.standing import Standing


def about(document: Mapping[str, Any]) -> str:
    """Return whom a document is about, by id."""
    return str(document["body"]["person"]["id"])


def read_under(document: Mapping[str, Any]) -> list[str]:
    """Return the instruments whose readings a statement stands for: none where it is about judging."""
    from trainer.signoff.criterion import parse

    criterion = parse(document["body"]["criterion"]["text"], document["body"]["criterion"]["name"])
    names = [] if criterion.judges else catalogue.names()
    return [name for name in names if not criterion.scope.refuses(catalogue.load(name))]


def titled(title: str) -> str:
    """Return a criterion's title as it is shown: a number and its per cent sign stay together."""
    return title.replace(" %", "\N{NO-BREAK SPACE}%")


def kept_statements(store: "Archive") -> "list[tuple[Mapping[str, Any], Standing]]":
    """Return all statements with where they stand, the newest first."""
    from trainer.records import office

    found = [(kept.document, present) for kept, present in office.due(store)]
    return sorted(found, key=lambda pair: str(pair[0]["body"]["signed_at"]), reverse=True)


def _tickets(store: "Archive", person: str) -> Iterator[Mapping[str, Any]]:
    from trainer.records import documents, statements

    for kept in documents.listed(store, statements.TICKET, person):
        yield kept.document["body"]


def asked_of(store: "Archive") -> dict[str, set[str]]:
    """Return by person the names of the criteria that checks were opened for."""
    from trainer.records import documents, statements

    found: dict[str, set[str]] = {}
    for kept in documents.listed(store, statements.TICKET):
        found.setdefault(kept.about, set()).add(str(kept.document["body"]["criterion"]))
    return found


def standing_of(
    store: "Archive",
    rule: "Criterion",
    person: Any,
    kept: "Sequence[tuple[Mapping[str, Any], Standing]]",
    found: "History | None" = None,
) -> signing.Standing:
    """Return where a person stands under a criterion."""
    from trainer.records import office

    found = found or office.verdicts(store, rule, person.id)
    last = found.last
    if not last.decision.ended and len(found.attempts) > 1 and last.opening is None:
        last = found.attempts[-2]  # what gathers for the renewal says nothing yet
    decision, now = last.decision, office.now(store)
    own = next(
        (
            pair
            for pair in kept
            if about(pair[0]) == person.id and pair[0]["body"]["criterion"]["name"] == rule.name
        ),
        None,
    )
    return signing.Standing(
        str(person.id),
        person.name,
        rule.name,
        titled(rule.title),
        decision.verdict if decision.readings else "",
        decision.sentence,
        brief_forecast(decision),
        _limits(decision) if decision.readings else (),
        signed_of(*own, now) if own else None,
        _open_ticket(store, rule, person.id, now),
    )


def _open_ticket(store: "Archive", rule: "Criterion", person: str, now: datetime) -> str:
    """Return a ticket of this person and criterion that no check was begun under yet, "" for none."""
    from trainer.records import accounts, checks
    from trainer.signoff.guard import UnusableTicket

    ring = accounts.keyring(store)
    for body in _tickets(store, person):
        if body["criterion"] != rule.name or body.get("criterion_sha256", rule.sha256) != rule.sha256:
            continue
        try:
            ticket = checks.find_ticket(store, ring, str(body["id"]))
        except (UnusableTicket, Refusal):
            continue
        if not ticket.refuses(person=person, started_at=now) and not checks.sessions_under(store, ticket):
            return ticket.id
    return ""


def brief_forecast(decision: "Decision") -> str:
    """Return about how many more readings are wanted, for a table; "" where nothing useful can be said.

    The numbers are those of the forecast, which are too small by half for a reader near a limit.
    """
    from trainer.signoff.forecast import FURTHEST
    from trainer.signoff.words import tell

    least = decision.forecast.least
    if decision.ended or not least:
        return ""
    if least > FURTHEST:
        return tell("more.far", furthest=FURTHEST)
    return tell("more.about", least=least, most=2 * least)


def _limits(decision: "Decision") -> tuple[signing.Limit, ...]:
    from trainer.signoff.decision import NOT_YET

    return tuple(
        signing.Limit(
            one.name, one.estimate.value, one.estimate.low, one.estimate.high, one.limit,
            one.verdict, one.forecast.words if not decision.ended and one.verdict == NOT_YET else "",
            one.count, one.of,
        )
        for one in decision.limits
    )  # fmt: skip


def signed_of(document: Mapping[str, Any], present: "Standing", now: datetime) -> signing.Signed:
    """Return a statement with where it stands now."""
    from trainer.signoff.waiting import due_in_days, reminder

    body = document["body"]
    return signing.Signed(
        str(body["id"]),
        str(body["person"]["name"]),
        titled(str(body["criterion"]["title"])),
        present.state,
        present.sentence,
        present.in_force,
        f"{present.valid_until:%Y-%m-%d}",
        (present.valid_until - now).days,
        f"{present.due_at:%Y-%m-%d}",
        due_in_days(present, now),
        reminder(present, now),
        tuple(present.conditions),
        str(body["supervisor"]["account"]),
    )


def attempt_of(one: Any) -> signing.Attempt:
    """Return an attempt with its verdict."""
    reason = one.opening.reason if one.opening else ""
    return signing.Attempt(
        one.number, one.decision.sentence, one.decision.verdict, one.decision.ended, reason
    )


def checks_of(
    rule: "Criterion",
    found: "History",
    records: Mapping[str, Mapping[str, Any]],
    taken: Mapping[str, tuple[str, int]],
) -> tuple[signing.Check, ...]:
    """Return all check sessions of a person, those that count nowhere too, in order of time.

    `taken` are all of them by id: when they began, and how many answers they have.
    """
    from trainer.signoff.statement import evidence_row

    rows = []
    for attempt in found.attempts:
        for one in attempt.sessions:
            row = evidence_row(one, records.get(one.id), attended=rule.attended)
            made = (one.id, one.started_at, one.readings, one.misreads, attempt.number)
            flags = "; ".join(row["flags"])
            rows.append(signing.Check(*made, record=flags, attested=bool(row["attested"])))
    for left in found.refused:
        began, answers = taken.get(left.id, ("", 0))
        rows.append(signing.Check(left.id, began, answers, 0, None, left.reason))
    return tuple(sorted(rows, key=lambda one: one.started_at))


def is_unsigned(
    rule: "Criterion",
    found: "History",
    kept: "Sequence[tuple[Mapping[str, Any], Standing]]",
    person: str,
) -> bool:
    """Return whether everything is shown in an attempt that nobody has signed yet."""
    from trainer.signoff.statement import signable

    shown = signable(found)
    return shown is not None and not any(
        about(document) == person
        and document["body"]["criterion"]["sha256"] == rule.sha256
        and document["body"]["attempt"]["number"] == shown.number
        for document, _ in kept
    )
