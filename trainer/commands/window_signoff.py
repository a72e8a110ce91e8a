"""The window's sign-off on a real archive: the desktop's protocol, written on the office."""

import secrets
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.commands.statement_files import writable, written
from trainer.commands.window_guard import WindowGuard
from trainer.commands.window_standing import (
    about,
    asked_of,
    attempt_of,
    checks_of,
    is_unsigned,
    kept_statements,
    read_under,
    signed_of,
    standing_of,
    titled,
)
from trainer.desktop import signing
from trainer.desktop.words import say
from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import Moment, joined

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.signoff.criterion import Criterion

EXPIRES_SOON_DAYS = 30


class WindowOffice(WindowGuard):
    """The office of the window. `criteria` is the folder of one's own criteria, `out` that of statements.

    `counter` gives seconds that only grow; `key_path` says where an account's key file is.
    """

    def __init__(
        self,
        criteria: Path,
        out: Path,
        *,
        counter: Callable[[], float] = time.monotonic,
        key_path: Callable[[str], Path] | None = None,
    ) -> None:
        super().__init__(counter)
        self._criteria, self._out, self._key_path = criteria, out, key_path

    # ---- criteria and accounts -----------------------------------------------------------------

    def rules(self) -> tuple[dict[str, "Criterion"], tuple[str, ...]]:
        """Return the shipped criteria and one's own by name, and a sentence for each own one at fault."""
        from trainer.signoff import criteria
        from trainer.signoff.criterion import load

        found, troubles = {one.name: one for one in criteria.shipped()}, []
        for path in sorted(self._criteria.glob("*.toml")):
            try:
                own = load(path)
            except Refusal as fault:
                troubles.append(str(fault).replace("\n", "; "))
                continue
            if own.name in found:
                troubles.append(f"{path}: a criterion that comes with the program has this name; rename it")
                continue
            found[own.name] = own
        return found, tuple(troubles)

    def _rule(self, name: str) -> "Criterion":
        from trainer.signoff import criteria

        return self.rules()[0].get(name) or criteria.find(name)

    def key_file(self, account: str) -> str:
        """Return where an account's key file is kept."""
        return str(self._key_file(account))

    def _key_file(self, account: str) -> Path:
        from trainer.records import office

        return self._key_path(account) if self._key_path else office.key_path(account)

    def accounts(self, store: "Archive") -> tuple[signing.Account, ...]:
        """Return the accounts by name, the newest key of each."""
        from trainer.records import accounts, office

        ring, now = accounts.keyring(store), office.now(store)
        found = {
            one.account: signing.Account(
                one.account, tuple(one.roles), one.public.fingerprint,
                ring.certificate(one.by).account, ring.fault(one.public, now) or "",
            )
            for one in ring.certificates
        }  # fmt: skip
        return tuple(sorted(found.values(), key=lambda one: one.name.casefold()))

    def wait_s(self, store: "Archive", account: str) -> float:
        """Return how long an account has to wait after wrong passphrases."""
        from trainer.records import accounts, office

        return accounts.tries(store, account).wait_s(office.now(store).timestamp())

    def set_up(self, store: "Archive", account: str, passphrase: str) -> str:
        """Make the first supervisor's key."""
        from trainer.records import accounts, office
        from trainer.signoff import accounts as rules
        from trainer.signoff.keyring import Certificate

        if accounts.keyring(store).certificates:
            raise Refusal(say("accounts.there"))
        made = rules.set_up(
            account, _holder(store, account), passphrase,
            now=office.now(store), random_bytes=secrets.token_bytes,
        )  # fmt: skip
        accounts.keep_key(store, made, self._key_file(account), who=account)
        return Certificate.of(made.certificate).public.fingerprint

    def add_account(
        self, store: "Archive", who: signing.Who, account: str, roles: Sequence[str], passphrase: str
    ) -> str:
        """Add an account; the acting supervisor countersigns its key."""
        from trainer.records import accounts, office
        from trainer.signoff import accounts as rules
        from trainer.signoff.keyring import Certificate

        key = self._unlock(store, who)
        made = rules.countersigned(
            accounts.keyring(store), key, account, _holder(store, account), tuple(roles), passphrase,
            now=office.now(store), random_bytes=secrets.token_bytes,
        )  # fmt: skip
        accounts.keep_key(store, made, self._key_file(account), who=who.account)
        return Certificate.of(made.certificate).public.fingerprint

    def asks_account(self, store: "Archive") -> bool:
        """Return whether a change of the list of people asks for an account."""
        from trainer.records import permits

        return not permits.is_open(store)

    def permit(self, store: "Archive", who: signing.Who, act: str) -> str:
        """Return the account's name where it may do the act; raise where it may not."""
        from trainer.records import permits

        return permits.permit(store, act, who.account, self._unlock(store, who))

    def _unlock(self, store: "Archive", who: signing.Who) -> Any:
        from trainer.records import office

        file = Path(who.key_file) if who.key_file else self._key_file(who.account)
        return office.unlock(store, who.account, who.passphrase, file)

    # ---- where everybody stands ----------------------------------------------------------------

    def overview(self, store: "Archive") -> signing.Overview:
        """Return everybody's standing: those with a check or a statement first, then the others."""
        rules, troubles = self.rules()
        kept, asked = kept_statements(store), asked_of(store)
        for one, _ in kept:
            asked.setdefault(about(one), set()).add(one["body"]["criterion"]["name"])
        rows, rest = [], []
        for person in store.people():
            names = asked.get(person.id, set())
            for name in sorted(names):
                if name in rules:
                    rows.append(standing_of(store, rules[name], person, kept))
            if not names & set(rules):
                rest.append(signing.Standing(str(person.id), person.name, "", ""))
        chosen = tuple(
            signing.Rule(one.name, titled(one.title), one.protects.strip()) for one in rules.values()
        )
        return signing.Overview(self.accounts(store), chosen, (*rows, *rest), troubles)

    def case(self, store: "Archive", person_id: str, criterion: str) -> signing.Case:
        """Return everything about one person under one criterion."""
        from trainer.records import checks, office
        from trainer.signoff.waiting import waited_for

        rule, person, kept = self._rule(criterion), store.person(person_id), kept_statements(store)
        now, found = office.now(store), office.verdicts(store, rule, person.id)
        frame = store.sessions(person.id, for_record=True)
        rows = zip(frame["session"], frame["started_at"], frame["answers"], strict=True)
        taken = {str(one): (str(began), int(answers)) for one, began, answers in rows}
        signed = [
            int(document["body"]["attempt"]["number"])
            for document, _ in kept
            if about(document) == person.id and document["body"]["criterion"]["sha256"] == rule.sha256
        ]
        own = [
            signed_of(document, present, now)
            for document, present in kept
            if about(document) == person.id and document["body"]["criterion"]["name"] == rule.name
        ]
        return signing.Case(
            standing_of(store, rule, person, kept, found),
            rule.protects.strip(),
            tuple(attempt_of(one) for one in found.attempts),
            checks_of(rule, found, checks.records(store, person.id), taken),
            tuple(own),
            waited_for(rule, found, now, signed=signed),
            is_unsigned(rule, found, kept, person.id),
            found.may_open(now),
            str(self._out),
        )

    def reminders(self, store: "Archive") -> signing.Reminders:
        """Return what is due."""
        from trainer.records import office

        now = office.now(store)
        due = suspended = 0
        left: list[int] = []
        for _, present in kept_statements(store):
            due += present.state == "due"
            suspended += present.state == "suspended"
            days = (present.valid_until - now).days
            if present.in_force and days <= EXPIRES_SOON_DAYS:
                left.append(days)
        return signing.Reminders(due, suspended, len(left), min(left, default=0))

    def may_sign(self, store: "Archive") -> Mapping[str, signing.MaySign]:
        """Return by person's name the instruments they may sign for, and why not for the others."""
        from trainer.records import office
        from trainer.signoff.words import tell

        without = {person.id: why for person, why in office.may_not_sign(store)}
        kept, found = kept_statements(store), {}
        for person in store.people():
            until: dict[str, str] = {}
            titles = []
            for document, present in kept:
                if about(document) == person.id and present.in_force:
                    titles.append(document["body"]["criterion"]["title"])
                    for name in read_under(document):
                        until[name] = max(until.get(name, ""), f"{present.valid_until:%Y-%m-%d}")
            why = without.get(person.id) or tell("may-not-sign.only", titles=joined(titles, "semicolon"))
            found[person.name] = signing.MaySign(why, until)
        return found

    # ---- acts ------------------------------------------------------------------------------------

    def start_check(
        self, store: "Archive", who: signing.Who, person_id: str, criterion: str
    ) -> signing.Ticketed:
        """Open a check."""
        from trainer.practice import plans
        from trainer.records import office

        rule, person = self._rule(criterion), _listed(store, person_id)
        made = office.start_check(store, self._unlock(store, who), who.account, rule, person.id, person.name)
        return signing.Ticketed(made.id, plans.find(rule.plan), person)

    def taken_up(self, store: "Archive", ticket: str) -> signing.Ticketed:
        """Return the check that was opened with this ticket."""
        from trainer.practice import plans
        from trainer.records import accounts, checks

        found = checks.find_ticket(store, accounts.keyring(store), ticket)
        return signing.Ticketed(found.id, plans.find(found.plan), _listed(store, found.person))

    def open_attempt(
        self, store: "Archive", who: signing.Who, person_id: str, criterion: str, reason: str
    ) -> str:
        """Open a new attempt."""
        from trainer.records import office

        key, rule = self._unlock(store, who), self._rule(criterion)
        made = office.open_attempt(store, key, who.account, rule, person_id, reason)
        return Moment(made.at)

    def sign(
        self,
        store: "Archive",
        who: signing.Who,
        person_id: str,
        criterion: str,
        conditions: Sequence[str],
        folder: str,
    ) -> tuple[str, ...]:
        """Sign, keep and write; a folder that cannot be written to is found out before anything is signed."""
        from trainer.records import office

        into = writable(folder)
        made = office.sign(
            store, self._unlock(store, who), who.account, self._rule(criterion), person_id,
            conditions=conditions,
        )  # fmt: skip
        return written(made, into)

    def write(self, store: "Archive", statement: str, folder: str) -> tuple[str, ...]:
        """Write a kept statement's files again."""
        from trainer.records import statements

        return written(dict(statements.find_statement(store, statement).document), writable(folder))

    def change(self, store: "Archive", who: signing.Who, statement: str, kind: str, reason: str) -> str:
        """Change where a statement stands."""
        from trainer.records import office

        key = self._unlock(store, who)
        return office.change_standing(store, key, who.account, statement, kind, reason).sentence


def _listed(store: "Archive", person_id: str) -> Any:
    """Return a person; raise for one who has been put away meanwhile."""
    person = store.person(person_id)
    if all(one.id != person.id for one in store.people()):
        raise Refusal(say("check.put-away", person=person.name))
    return person


def _holder(store: "Archive", account: str) -> str | None:
    """Return the person whose name the account bears, if there is one: nobody signs for themself."""
    from trainer.signoff.accounts import same_name

    return next((one.id for one in store.people() if same_name(one.name, account)), None)
