"""Work on the sign-off: each effect unlocks, acts and forgets the key within one run."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from trainer.desktop.signing import Who
from trainer.desktop.words import say
from trainer.desktop.work import Effect, ListChange, Services

if TYPE_CHECKING:
    from trainer.desktop.signing import Office
    from trainer.desktop.sittings import Sitting


def office_of(services: Services) -> "Office":
    """Return the office; raise where the window was opened without one."""
    from trainer.desktop.store import NotKept

    if services.office is None:
        raise NotKept(say("signoff.no-office"))
    return services.office


@dataclass(frozen=True)
class LoadOverview(Effect):
    """Ask where everybody stands."""

    def run(self, services: Services) -> object:
        """Return a signing.Overview."""
        return office_of(services).overview(services.store)


@dataclass(frozen=True)
class LoadCase(Effect):
    """Ask for everything about one person under one criterion."""

    person_id: str
    criterion: str

    def run(self, services: Services) -> object:
        """Return a signing.Case."""
        return office_of(services).case(services.store, self.person_id, self.criterion)


@dataclass(frozen=True)
class LoadReminders(Effect):
    """Ask what is due in the sign-off."""

    def run(self, services: Services) -> object:
        """Return signing.Reminders, None in a window without a sign-off."""
        return None if services.office is None else services.office.reminders(services.store)


@dataclass(frozen=True)
class LoadMaySign(Effect):
    """Ask who may sign for what, for the team's view."""

    def run(self, services: Services) -> object:
        """Return signing.MaySign by person's name."""
        return {} if services.office is None else dict(services.office.may_sign(services.store))


@dataclass(frozen=True)
class LoadAccounts(Effect):
    """Ask for the accounts."""

    def run(self, services: Services) -> object:
        """Return them as a tuple."""
        return office_of(services).accounts(services.store)


@dataclass(frozen=True)
class AskWait(Effect):
    """Ask how long an account has to wait after wrong passphrases."""

    account: str

    def run(self, services: Services) -> object:
        """Return the account and the seconds."""
        return self.account, office_of(services).wait_s(services.store, self.account)


@dataclass(frozen=True)
class AskKeyFile(Effect):
    """Ask where an account's key file is kept, and for a passphrase as an example."""

    account: str = ""

    def run(self, services: Services) -> object:
        """Return the path and the example."""
        import secrets

        from trainer.signoff.passphrase import suggestion

        return office_of(services).key_file(self.account), suggestion(secrets.randbelow)


@dataclass(frozen=True)
class Act(Effect):
    """Something that an account does; `who` is filled in by the dialog that unlocks it."""

    who: Who = field(default=Who("", ""), kw_only=True)

    @property
    def about(self) -> dict[str, str]:
        """What the dialog names."""
        return {}

    def run(self, services: Services) -> object:
        """Do it; each act says how."""
        raise NotImplementedError(self.what)


@dataclass(frozen=True)
class StartCheck(Act):
    """Open a check."""

    person_id: str
    person: str
    criterion: str
    title: str

    @property
    def about(self) -> dict[str, str]:
        """Whom it is for."""
        return {"person": self.person, "title": self.title}

    def run(self, services: Services) -> object:
        """Return a signing.Ticketed."""
        return office_of(services).start_check(services.store, self.who, self.person_id, self.criterion)


@dataclass(frozen=True)
class OpenAttempt(Act):
    """Open a new attempt."""

    person_id: str
    person: str
    criterion: str
    title: str
    reason: str

    @property
    def about(self) -> dict[str, str]:
        """Whom it is for."""
        return {"person": self.person, "title": self.title}

    def run(self, services: Services) -> object:
        """Return from when it counts."""
        office = office_of(services)
        return office.open_attempt(services.store, self.who, self.person_id, self.criterion, self.reason)


@dataclass(frozen=True)
class SignStatement(Act):
    """Sign a statement and write its files."""

    person_id: str
    person: str
    criterion: str
    title: str
    conditions: tuple[str, ...]
    folder: str

    @property
    def about(self) -> dict[str, str]:
        """Whom it is for."""
        return {"person": self.person, "title": self.title}

    def run(self, services: Services) -> object:
        """Return the paths of the files."""
        office = office_of(services)
        return office.sign(
            services.store, self.who, self.person_id, self.criterion, self.conditions, self.folder
        )


@dataclass(frozen=True)
class ChangeStanding(Act):
    """Suspend, withdraw, reinstate or set a condition."""

    statement: str
    person: str
    kind: str
    reason: str

    @property
    def about(self) -> dict[str, str]:
        """What is done to which statement."""
        kind = "set a condition" if self.kind == "condition" else self.kind
        return {"person": self.person, "kind": say(f"act.{kind}"), "statement": self.statement}

    def run(self, services: Services) -> object:
        """Return where the statement stands then."""
        return office_of(services).change(services.store, self.who, self.statement, self.kind, self.reason)


@dataclass(frozen=True)
class AddAccount(Act):
    """Add an account, countersigned."""

    account: str
    roles: tuple[str, ...]
    passphrase: str = field(repr=False)

    @property
    def about(self) -> dict[str, str]:
        """Whose account."""
        return {"account": self.account}

    def run(self, services: Services) -> object:
        """Return its fingerprint."""
        office = office_of(services)
        return office.add_account(services.store, self.who, self.account, self.roles, self.passphrase)


@dataclass(frozen=True)
class AsAccount(Act):
    """Change the list of people as an account."""

    change: ListChange

    @property
    def about(self) -> dict[str, str]:
        """What is done."""
        return {"act": say(f"act.{self.change.act}")}

    def run(self, services: Services) -> object:
        """Return what the change returns."""
        account = office_of(services).permit(services.store, self.who, self.change.act)
        return self.change.done(services, {"who": account})


@dataclass(frozen=True)
class SetUp(Effect):
    """Make the first supervisor's key."""

    account: str
    passphrase: str = field(repr=False)

    def run(self, services: Services) -> object:
        """Return its fingerprint."""
        return office_of(services).set_up(services.store, self.account, self.passphrase)


@dataclass(frozen=True)
class WriteStatement(Effect):
    """Write a kept statement's files again."""

    statement: str
    folder: str

    def run(self, services: Services) -> object:
        """Return the paths of the files."""
        return office_of(services).write(services.store, self.statement, self.folder)


@dataclass(frozen=True)
class TakeUp(Effect):
    """Ask for a check that was opened and not begun."""

    ticket: str

    def run(self, services: Services) -> object:
        """Return a signing.Ticketed."""
        return office_of(services).taken_up(services.store, self.ticket)


@dataclass(frozen=True)
class ResumeCheck(Effect):
    """Look at the ticket of a check that is to be gone on with, and note that it is taken up again."""

    sitting: "Sitting"
    person_id: str

    def run(self, services: Services) -> object:
        """Return the sitting."""
        office, sitting = office_of(services), self.sitting
        office.look_at_ticket(
            services.store, sitting.ticket, self.person_id, sitting.plan, sitting.session_id
        )
        office.resumed(services.store, sitting.session_id)
        office.glance(services.store, sitting.session_id)
        return sitting


@dataclass(frozen=True)
class Glance(Effect):
    """Compare the archive's clock with a counter that only grows; what it tells goes on the record."""

    session_id: Any

    def run(self, services: Services) -> object:
        """Return nothing."""
        office_of(services).glance(services.store, self.session_id)
        return None


@dataclass(frozen=True)
class CloseCheck(Effect):
    """Keep the record of a check that is finished, left or closed."""

    session_id: Any
    how: str
    attested: bool = False

    def run(self, services: Services) -> object:
        """Return the session, how it ended, and what stands on its record."""
        flags = office_of(services).close_check(services.store, self.session_id, self.how, self.attested)
        return self.session_id, self.how, flags
