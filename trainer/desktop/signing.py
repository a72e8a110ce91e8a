"""What the window knows of the sign-off, as plain values; the office is handed in by the opening command."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trainer.practice.plan import Plan


@dataclass(frozen=True, slots=True)
class Account:
    """An account of the archive. `fault` says why its key is not in force, "" where it is."""

    name: str
    roles: tuple[str, ...]
    fingerprint: str
    vouched_by: str
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """A criterion as it is chosen from: its name, title, and what it protects."""

    name: str
    title: str
    protects: str = ""


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a criterion and what is known about it.

    `value`, `low`, `high` (95 %) and `limit` are tenths for bias and spread, shares of 1 for the others,
    whose `count` of `of` is given. `more` says about how many readings are still wanted.
    """

    name: str
    value: float | None
    low: float | None
    high: float | None
    limit: float
    verdict: str
    more: str
    count: int | None = None
    of: int | None = None


@dataclass(frozen=True, slots=True)
class Attempt:
    """An attempt: its verdict in a sentence, and the reason it was opened for."""

    number: int
    sentence: str
    verdict: str
    ended: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """A check session: whether it counts, else why not, what stands on its record, whether it is attested."""

    session_id: str
    started_at: str
    readings: int
    misreads: int
    attempt: int | None
    why_not: str = ""
    record: str = ""
    attested: bool = False


@dataclass(frozen=True, slots=True)
class Signed:
    """A statement and where it stands; `due_in_days` is None where no check keeps it alive any more."""

    id: str
    person: str
    title: str
    state: str
    sentence: str
    in_force: bool
    valid_until: str
    valid_days: int
    due_at: str
    due_in_days: int | None
    reminder: str
    conditions: tuple[str, ...]
    supervisor: str


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a person stands under a criterion. `verdict` is "" before anything was taken for it.

    `ticket` names a check that was opened and not begun yet.
    """

    person_id: str
    person: str
    criterion: str
    title: str
    verdict: str = ""
    sentence: str = ""
    more: str = ""
    limits: tuple[Limit, ...] = ()
    statement: Signed | None = None
    ticket: str = ""

    @property
    def key(self) -> str:
        """The key of its row."""
        return f"{self.person_id}/{self.criterion}"


@dataclass(frozen=True, slots=True)
class Overview:
    """Everybody's standing, the accounts, and the criteria to choose from."""

    accounts: tuple[Account, ...]
    rules: tuple[Rule, ...]
    rows: tuple[Standing, ...]
    troubles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """Everything about one person under one criterion."""

    standing: Standing
    protects: str
    attempts: tuple[Attempt, ...]
    checks: tuple[Check, ...]
    statements: tuple[Signed, ...]
    waits_for: str
    may_sign: bool
    may_open: bool
    folder: str  # where statements are written unless another folder is named


@dataclass(frozen=True, slots=True)
class Ticketed:
    """A check that a supervisor has opened."""

    ticket: str
    plan: "Plan"
    person: Any


@dataclass(frozen=True, slots=True)
class Reminders:
    """What is due in the sign-off. `expires_in_days` is that of the first of the `expiring`."""

    due: int = 0
    suspended: int = 0
    expiring: int = 0
    expires_in_days: int = 0


@dataclass(frozen=True, slots=True)
class MaySign:
    """What a person may sign for: the last day by instrument; `why_not` speaks of all others."""

    why_not: str
    until: "Mapping[str, str]"


@dataclass(frozen=True, slots=True)
class Who:
    """An account that acts, and what unlocks its key; the text of it shows no passphrase."""

    account: str
    passphrase: str
    key_file: str = ""

    def __repr__(self) -> str:
        """Tell the account alone."""
        return f"Who({self.account!r})"


class Office(Protocol):
    """What the sign-off does with an open archive; every refusal means that nothing was kept."""

    def accounts(self, store: Any) -> tuple[Account, ...]:
        """Return the accounts."""

    def overview(self, store: Any) -> Overview:
        """Return everybody's standing."""

    def case(self, store: Any, person_id: str, criterion: str) -> Case:
        """Return everything about one person under one criterion."""

    def reminders(self, store: Any) -> Reminders:
        """Return what is due."""

    def may_sign(self, store: Any) -> "Mapping[str, MaySign]":
        """Return by person's name what they may sign for, and why not for the rest."""

    def wait_s(self, store: Any, account: str) -> float:
        """Return how long an account has to wait after wrong passphrases, in seconds."""

    def key_file(self, account: str) -> str:
        """Return where an account's key file is kept."""

    def asks_account(self, store: Any) -> bool:
        """Return whether a change of the list of people asks for an account: where there are accounts."""

    def permit(self, store: Any, who: Who, act: str) -> str:
        """Return the account's name where it may do the act; raise where it may not."""

    def start_check(self, store: Any, who: Who, person_id: str, criterion: str) -> Ticketed:
        """Open a check."""

    def taken_up(self, store: Any, ticket: str) -> Ticketed:
        """Return the check that was opened with this ticket."""

    def open_attempt(self, store: Any, who: Who, person_id: str, criterion: str, reason: str) -> str:
        """Open a new attempt; return from when it counts."""

    def sign(
        self, store: Any, who: Who, person_id: str, criterion: str, conditions: "Sequence[str]", folder: str
    ) -> tuple[str, ...]:
        """Sign a statement, keep it, write it as JSON and PDF; return the files' paths."""

    def write(self, store: Any, statement: str, folder: str) -> tuple[str, ...]:
        """Write a kept statement as JSON and PDF; return the files' paths."""

    def change(self, store: Any, who: Who, statement: str, kind: str, reason: str) -> str:
        """Suspend, withdraw, reinstate or set a condition; return where the statement stands then."""

    def set_up(self, store: Any, account: str, passphrase: str) -> str:
        """Make the first supervisor's key; return its fingerprint."""

    def add_account(self, store: Any, who: Who, account: str, roles: "Sequence[str]", passphrase: str) -> str:
        """Add an account, countersigned; return its fingerprint."""

    def look_at_ticket(
        self, store: Any, ticket: str, person_id: str, plan: "Plan", session_id: str = ""
    ) -> None:
        """Raise unless a check may begin, or the session go on, under this ticket now."""

    def now(self, store: Any) -> str:
        """Return the moment by the archive's clock, ISO 8601, UTC."""

    def glance(self, store: Any, session_id: str) -> None:
        """Note on a check's record what the clock tells: set back, or time when the computer slept."""

    def resumed(self, store: Any, session_id: str) -> None:
        """Note on a check's record that it is taken up again."""

    def close_check(self, store: Any, session_id: str, how: str, attested: bool) -> tuple[str, ...]:
        """Keep the record of a check; return what stands on it."""
