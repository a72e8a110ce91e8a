"""Whether an archive is whole: every record against the act that vouches for it, every act against its hash.

What a check cannot find: a chain whose last acts were taken away together with their records and whose
head was set back, by somebody with full access to the database. Compare the heads with those written down
at an earlier check (`tenthwise archive check --since FILE`).
"""

import functools
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, and_, select

from trainer.instrument.refusal import Refusal
from trainer.records import check_records
from trainer.records.answering import answer_digest
from trainer.records.canonical import FIRST, act_hash, as_bytes, holds
from trainer.records.chain import act_body
from trainer.records.engine import Store
from trainer.records.tables import acts, answers, chains
from trainer.records.values import StoredAnswer

MOST_FINDINGS = 1000  # named one by one; more are only counted
STEP = 5000  # acts between two reports of progress


@dataclass
class Seen:
    """What the log says, gathered in one pass, for comparison with the tables."""

    begun: dict[str, tuple[bytes, list[int]]] = field(default_factory=dict)
    dealt: dict[str, list[tuple[bytes, list[int]]]] = field(default_factory=dict)
    imported: dict[tuple[str, int], tuple[bytes, str]] = field(default_factory=dict)
    ended: dict[str, tuple[str, int, bytes]] = field(default_factory=dict)
    people: dict[str, tuple[int, str, int, bytes]] = field(default_factory=dict)
    settings: dict[str, list[tuple[str, int, bytes]]] = field(default_factory=dict)
    made: list[tuple[str, bytes]] = field(default_factory=list)
    version: int = 0


@dataclass
class Report:
    """What a check found. `heads` is what to write down: per chain its last act and that act's hash."""

    findings: list[str] = field(default_factory=list)
    more: int = 0
    acts: int = 0
    answers: int = 0
    sessions: int = 0
    people: int = 0
    heads: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    def add(self, sentence: str) -> None:
        """Keep a finding."""
        if len(self.findings) < MOST_FINDINGS:
            self.findings.append(sentence)
        else:
            self.more += 1

    def to_dict(self) -> dict[str, Any]:
        """Return the report as JSON prints it."""
        return {
            "whole": self.whole,
            "findings": self.findings,
            "findings_not_listed": self.more,
            "acts": self.acts,
            "answers": self.answers,
            "sessions": self.sessions,
            "people": self.people,
            "heads": self.heads,
        }


def check(
    store: Store,
    *,
    since: Mapping[str, Mapping[str, Any]] | None = None,
    told: Callable[[int], None] = lambda _: None,
) -> Report:
    """Check an archive against its log of acts; `since` are the heads of an earlier report."""
    report = Report()
    with store.snapshot() as connection:
        try:
            seen = _walk(connection, report, since or {}, told)
            for sentence in check_records.all_of(connection, seen, report):
                report.add(sentence)
        except (ValueError, TypeError, KeyError, AttributeError, ArithmeticError, RecursionError) as fault:
            if isinstance(fault, Refusal):
                raise
            report.add(
                f"a record is none that this program wrote, so the check ended before its end: {fault}"
            )
    return report


def _walk(
    connection: Connection,
    report: Report,
    since: Mapping[str, Mapping[str, Any]],
    told: Callable[[int], None],
) -> Seen:
    """Go through every chain in order: numbers without gaps, hashes that follow, answers that match."""
    seen = Seen()
    heads = {row.chain: row for row in connection.execute(select(chains))}
    chain, seq, before, last_at = "", 0, FIRST, ""
    for row in _acts(connection):
        report.acts += 1
        if report.acts % STEP == 0:
            told(report.acts)
        if row.chain != chain:
            _compare_head(report, heads.pop(chain, None), chain, seq, before, last_at)
            chain, seq, before = row.chain, 0, FIRST
        if row.seq != seq + 1:
            first, last = f"{chain}-{seq + 1}", f"{chain}-{row.seq - 1}"
            lost = f"act {first} is" if first == last else f"acts {first} to {last} are"
            report.add(f"{lost} missing from the log")
            before = b""  # what came before is not known, so the next hash cannot be judged
        seq, last_at = row.seq, row.at
        body = act_body(
            chain, seq, row.at, row.kind, row.who, row.session, row.number, row.detail, as_bytes(row.digest)
        )
        if before and not holds(as_bytes(row.hash) or b"", functools.partial(act_hash, before, body)):
            report.add(f"act {chain}-{seq} ({row.kind}) has been changed, or an act was put before it")
        before = as_bytes(row.hash) or b""
        if since.get(chain, {}).get("seq") == seq and since[chain].get("hash") != before.hex():
            report.add(f"act {chain}-{seq} is not the one that stood there at the earlier check")
        _gather(report, seen, row)
    _compare_head(report, heads.pop(chain, None), chain, seq, before, last_at)
    for left in heads.values():
        report.add(f"chain {left.chain} has lost all its {left.seq} acts")
    for name, head in since.items():
        if report.heads.get(name, {"seq": 0})["seq"] < head["seq"]:
            report.add(f"chain {name} ends before act {name}-{head['seq']}, which stood at the earlier check")
    return seen


def _acts(connection: Connection) -> Iterator[Any]:
    own = answers.c
    beside = and_(acts.c.kind == "answer", own.session == acts.c.session, own.number == acts.c.number)
    answer = (own.typed, own.answer_tenths, own.outcome, own.seconds)
    places = (own.at.label("given_at"), own.chain.label("given_chain"), own.seq.label("given_seq"))
    further = own.extra.label("given_extra")
    query = select(acts, *answer, *places, further).select_from(acts).outerjoin(answers, beside)
    query = query.order_by(acts.c.chain, acts.c.seq)
    yield from connection.execution_options(yield_per=2000).execute(query)


def _compare_head(report: Report, head: Any, chain: str, seq: int, last: bytes, last_at: str) -> None:
    if not chain:
        return
    report.heads[chain] = {"seq": seq, "hash": last.hex(), "at": last_at}
    if head is None:
        report.add(f"chain {chain} has acts, but its head is missing")
    elif head.seq > seq:
        report.add(f"act {chain}-{head.seq} is missing at the end of the log (the last one is {chain}-{seq})")
    elif (head.seq, as_bytes(head.hash), head.last_at) != (seq, last, last_at):
        report.add(f"the head of chain {chain} has been changed; it does not stand for act {chain}-{seq}")


def _gather(report: Report, seen: Seen, row: Any) -> None:
    if row.kind == "answer":
        report.answers += 1
        _compare_answer(report, row)
        return
    place = f"{row.chain}-{row.seq}"
    try:
        detail = json.loads(row.detail) if row.detail else {}
        _note(seen, row, place, detail if isinstance(detail, dict) else {}, as_bytes(row.digest) or b"")
    except (ValueError, KeyError, TypeError):
        report.add(f"act {place} ({row.kind}) has a detail that cannot be read")


def _compare_answer(report: Report, row: Any) -> None:
    name = f"answer {row.number} of session {row.session}"
    if row.outcome is None:
        report.add(f"{name} is missing (act {row.chain}-{row.seq} tells of it)")
        return
    own = (row.number, row.typed, row.answer_tenths, row.outcome, row.seconds, row.given_at)
    if not holds(
        as_bytes(row.digest), lambda: answer_digest(StoredAnswer(*own, json.loads(row.given_extra)))
    ):
        report.add(f"{name} has been changed since it was given")
    elif (row.given_chain, row.given_seq) != (row.chain, row.seq):
        report.add(f"{name} points to another act than {row.chain}-{row.seq}")


def _note(seen: Seen, row: Any, place: str, detail: dict[str, Any], digest: bytes) -> None:
    match row.kind:
        case "archive-made" | "archive-copied" | "archive-upgraded":
            if row.kind != "archive-upgraded":
                seen.made.append((row.chain, digest))
            seen.version = max(seen.version, int(detail["to"]))
        case "session-begun":
            seen.begun[place] = (digest, detail["items"])
        case "items-dealt":
            seen.dealt.setdefault(row.session, []).append((digest, detail["items"]))
        case "session-imported":
            seen.imported[row.chain, row.seq] = (digest, detail["session"] or place)
        case "session-ended":
            seen.ended[row.session] = (row.chain, row.seq, digest)
        case "setting":
            seen.settings.setdefault(detail["name"], []).append((row.chain, row.seq, digest))
        case "person-added":
            seen.people.setdefault(place, (1, row.chain, row.seq, digest))
        case "person-renamed" | "person-archived" | "person-restored" | "person-pseudonymised":
            newest = (int(detail["revision"]), row.chain, row.seq, digest)
            seen.people[detail["person"]] = max(newest, seen.people.get(detail["person"], newest))
        case _:
            return
