"""Who may do what: each role only what it needs."""

from collections.abc import Iterable

from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import joined
from trainer.signoff.words import tell

PERSON, SUPERVISOR, KEEPER = "person", "supervisor", "keeper"
ROLES = (PERSON, SUPERVISOR, KEEPER)

MAY: dict[str, frozenset[str]] = {
    PERSON: frozenset({"take a check", "attest an own check", "see own records"}),
    SUPERVISOR: frozenset(
        {
            "start a check", "open an attempt", "sign", "suspend", "withdraw", "reinstate", "set a condition",
            "countersign a key", "revoke a key", "recover an account", "add a person", "rename a person",
        }
    ),
    KEEPER: frozenset(
        {
            "add a person", "rename a person", "put a person away", "pseudonymise a person",
            "export personal data", "back up the archive", "move the archive", "merge archives",
            "change a setting",
        }
    ),
}  # fmt: skip


class NotAllowed(Refusal):
    """An account may not do this; the sentence says which role may."""


def may(act: str) -> tuple[str, ...]:
    """Return the roles that may do an act.

    >>> may("sign")
    ('supervisor',)
    """
    return tuple(role for role in ROLES if act in MAY[role])


def refuse_unless_allowed(account: str, roles: Iterable[str], act: str) -> None:
    """Raise `NotAllowed` unless one of the roles may do the act.

    >>> refuse_unless_allowed("Kim", ["supervisor"], "sign")
    """
    held = set(roles)
    if not any(act in MAY.get(role, frozenset()) for role in held):
        able = joined([tell(f"role.{role}") for role in may(act)], "or")
        raise NotAllowed(tell("not-allowed", account=account, act=tell(f"act.{act}"), roles=able))
