"""Work outside the values: each effect is a frozen value that knows how to run against the services."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from trainer.desktop import settings as settings_file
from trainer.desktop.limits import LimitsOf
from trainer.desktop.settings import Settings
from trainer.desktop.store import Store
from trainer.desktop.words import say
from trainer.practice.plan import Plan

if TYPE_CHECKING:
    from trainer.desktop.signing import Office


@dataclass(slots=True)
class Services:
    """What effects run against; opened when first needed, off the main thread.

    `open_store` opens the archive; `seed` draws the seed of a new sitting; `settings_path` is where the
    settings are kept, None for nowhere.
    """

    open_store: Callable[[], Store]
    seed: Callable[[], int]
    settings_path: Path | None = None
    save_plan: Callable[[Plan, Plan | None], Plan] | None = None  # the plan, and the own one it replaces
    delete_plan: Callable[[Plan], None] | None = None
    limits: LimitsOf | None = None  # of the criteria by which people are measured
    open_office: "Callable[[], Office] | None" = None  # of the sign-off
    past: dict[Any, tuple[tuple[float, float], ...]] = field(default_factory=dict)  # of the sitting under way
    _store: Store | None = field(default=None)
    _office: "Office | None" = field(default=None)

    @property
    def store(self) -> Store:
        """The open archive; a refusal to open is raised each time it is tried again."""
        if self._store is None:
            self._store = self.open_store()
        return self._store

    @property
    def office(self) -> "Office | None":
        """The sign-off's office, made when it is first needed; None in a window without one."""
        if self._office is None and self.open_office is not None:
            self._office = self.open_office()
        return self._office


@dataclass(frozen=True)
class Effect:
    """Work; `what` names the answer."""

    @property
    def what(self) -> str:
        """The name of the answer: the effect's own, in small letters."""
        return type(self).__name__.lower()

    @property
    def brief(self) -> bool:
        """Not worth waiting for."""
        return False


@dataclass(frozen=True)
class LoadPeople(Effect):
    """Ask who is on the list."""

    def run(self, services: Services) -> object:
        """Return the people as a tuple."""
        return tuple(services.store.people())


@dataclass(frozen=True)
class AccountAsked:
    """The answer to a change of the list of people that an account has to make."""

    change: "ListChange"


@dataclass(frozen=True)
class ListChange(Effect):
    """A change of the list of people; an archive with accounts asks for one whose role may do `act`."""

    act: ClassVar[str] = ""  # of trainer.signoff.roles

    def run(self, services: Services) -> object:
        """Return what `done` returns, or that an account is asked for."""
        if services.office is not None and services.office.asks_account(services.store):
            return AccountAsked(self)
        return self.done(services, {})

    def done(self, services: Services, who: dict[str, str]) -> object:
        """Do it; `who` names the account that does, where there is one."""
        raise NotImplementedError


@dataclass(frozen=True)
class AddPerson(ListChange):
    """Add a person."""

    name: str
    act: ClassVar[str] = "add a person"

    def done(self, services: Services, who: dict[str, str]) -> object:
        """Return the new person and everybody."""
        person = services.store.add_person(self.name, **who)
        return person, tuple(services.store.people())


@dataclass(frozen=True)
class ImportPeople(ListChange):
    """Add the people named in a file, all in one go; names that cannot be or are there already are told."""

    path: Path
    act: ClassVar[str] = "add a person"

    def done(self, services: Services, who: dict[str, str]) -> object:
        """Return how many were added, the sentences of refusals, and everybody."""
        from trainer.desktop.name_list import names_in
        from trainer.desktop.screens.roster import name_fault

        names = names_in(self.path)
        faults = {name: name_fault(name) for name in names}
        added, there = services.store.add_people([name for name in names if not faults[name]], **who)
        refused = [f"{name[:40]}: {fault}" for name, fault in faults.items() if fault]
        refused += [say("people.there", name=name) for name in there]
        return len(added), tuple(refused), tuple(services.store.people())


@dataclass(frozen=True)
class CountWaiting(Effect):
    """Ask how many answers wait for an archive that is away, of a store that keeps them meanwhile."""

    def run(self, services: Services) -> object:
        """Return the number, 0 of a store that does not know waiting."""
        waiting = getattr(services.store, "waiting", None)
        return int(waiting()) if callable(waiting) else 0


@dataclass(frozen=True)
class RenamePerson(ListChange):
    """Give a person another name."""

    person: Any
    name: str
    act: ClassVar[str] = "rename a person"

    def done(self, services: Services, who: dict[str, str]) -> object:
        """Return the renamed person and everybody."""
        person = services.store.rename_person(self.person, self.name, **who)
        return person, tuple(services.store.people())


@dataclass(frozen=True)
class ArchivePerson(ListChange):
    """Take a person off the list."""

    person: Any
    act: ClassVar[str] = "put a person away"

    def done(self, services: Services, who: dict[str, str]) -> object:
        """Return the person and everybody else."""
        services.store.archive_person(self.person, **who)
        return self.person, tuple(services.store.people())


@dataclass(frozen=True)
class LoadSitting(Effect):
    """Read one session with its answers, and score it."""

    session_id: Any

    def run(self, services: Services) -> object:
        """Return a results.SittingResult."""
        from trainer.desktop import results

        return results.of_sitting(services.store, self.session_id)


@dataclass(frozen=True)
class LoadHistory(Effect):
    """Score everything a person has answered, as a whole and by session."""

    person: Any

    def run(self, services: Services) -> object:
        """Return a results.History."""
        from trainer.desktop import results

        return results.of_person(services.store, self.person, services.limits)


@dataclass(frozen=True)
class LoadTeam(Effect):
    """Score everybody."""

    def run(self, services: Services) -> object:
        """Return a results.Team."""
        from trainer.desktop import results

        return results.of_team(services.store)


@dataclass(frozen=True)
class DealOffsets(Effect):
    """Deal offsets of -1, 0 and 1 pixel, each as often as the others, in an order of chance."""

    count: int

    def run(self, services: Services) -> object:
        """Return the offsets."""
        import numpy as np

        chance = np.random.default_rng(services.seed())
        return tuple(int(v) for v in chance.permutation(np.arange(self.count) % 3 - 1))


@dataclass(frozen=True)
class SavePlan(Effect):
    """Keep a plan of one's own, in the place of another one with `replaces`."""

    plan: Plan
    replaces: Plan | None = None

    def run(self, services: Services) -> object:
        """Return the plan as kept; without a place to keep it, it lasts until the window closes."""
        return self.plan if services.save_plan is None else services.save_plan(self.plan, self.replaces)


@dataclass(frozen=True)
class DeletePlan(Effect):
    """Delete a plan of one's own."""

    plan: Plan

    def run(self, services: Services) -> object:
        """Return the plan that is gone."""
        if services.delete_plan is not None:
            services.delete_plan(self.plan)
        return self.plan


@dataclass(frozen=True)
class SaveSettings(Effect):
    """Keep the settings."""

    settings: Settings

    def run(self, services: Services) -> object:
        """Return nothing."""
        settings_file.save(self.settings, services.settings_path)
        return None


@dataclass(frozen=True)
class Warm(Effect):
    """Load what scoring needs, so that the first result comes at once."""

    def run(self, services: Services) -> object:
        """Return nothing."""
        from trainer.desktop import results
        from trainer.desktop.screens import rooms

        rooms.warm()
        results.warm()
        return None


@dataclass(frozen=True)
class Sound(Effect):
    """A short tick; run by the window itself."""

    def run(self, services: Services) -> object:
        """Return nothing: without a window there is nothing to hear."""
        return None


@dataclass(frozen=True)
class FullScreen(Effect):
    """Fill the screen, or leave it; run by the window itself."""

    on: bool

    def run(self, services: Services) -> object:
        """Return what was asked for."""
        return self.on
