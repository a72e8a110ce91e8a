"""Sentences of the sign-off, by entry. What goes into a signed document is their English text."""

from trainer.instrument.sentence import Sentence, teller

WORDS: dict[str, str] = {
    # verdicts, limits, states: in a word, as in a document
    "limit.bias": "bias",
    "limit.spread": "spread",
    "limit.misreads": "misreads",
    "limit.judgement": "false accepts",
    "limit.rejects": "false rejects",
    "limit.pace": "pace",
    "state.valid": "valid",
    "state.due": "due",
    "state.suspended": "suspended",
    "state.withdrawn": "withdrawn",
    "state.expired": "expired",
    "chart.bias high": "bias high",
    "chart.bias low": "bias low",
    "chart.spread": "spread",
    "chart.misreads": "misreads",
    "chart.false accepts": "false accepts",
    "chart.false rejects": "false rejects",
    # the decision
    "decision.readings": "{n} readings",
    "decision.readings.one": "1 reading",
    "decision.sittings": "{n} sittings",
    "decision.sittings.one": "1 sitting",
    "decision.shown": "shown after {n} readings in {sittings}",
    "decision.failed": "shown to fail after {n} readings: {limits}",
    "decision.ended": (
        "not shown, and no longer to be shown, after {n} of at most {most} readings: train first, then open "
        "a new attempt"
    ),
    "decision.none": "not yet shown: no reading counts yet, and {fewest} are needed at the least",
    "decision.not-yet": "not yet shown after {readings} in {sittings}; {forecast}",
    "forecast.early": "too early to say how many readings more",
    "forecast.never": "not at the present rate",
    "forecast.none": "no more readings needed",
    "forecast.far": "more than {furthest} more readings at the present rate",
    "forecast.about": "about {least} to {most} more readings at the present rate",
    # standing of a statement
    "standing.in-force": "{state}, until {until}; monitoring due {due}",
    "standing.in-force.why": "{state}, until {until}; monitoring due {due} ({reason})",
    "standing.not": "{state} since {since}",
    "standing.not.why": "{state} since {since} ({reason})",
    "standing.by": "{reason}; by {by}",
    "standing.over": "its time is over",
    "standing.alarm": "monitoring: {chart} beyond its limit",
    "standing.no-check": "no monitoring check within the time",
    "standing.to-be": "suspended on {day} without a monitoring check",
    "standing.failed": "attempt {n} was {sentence}",
    # what is waited for
    "wait.signature": "a signature: attempt {n} shows everything, and a supervisor can sign",
    "wait.nothing": (
        "nothing: attempt {n} is signed; checks from now on monitor it and count for the renewal"
    ),
    "wait.training.now": "training; a supervisor can open a new attempt now, with a reason",
    "wait.training": "training; a supervisor can open a new attempt from {start} ({soon}), with a reason",
    "wait.training.other": "{training} (check {check}, opened for {opened_for}, has led to no sign-off)",
    "wait.first": "a first check, at any time",
    "wait.unfinished": (
        "session {session} is unfinished; go on with it (--resume), or it is closed as it stands"
    ),
    "wait.small": (
        "a check at any time; the last sitting has too few readings to stand alone, and is added to"
    ),
    "wait.check": "a check, at any time; it counts as another sitting",
    "wait.day": (
        "another day: a check counts as another sitting from {start} ({soon}); before then it adds to the "
        "present one"
    ),
    "soon.now": "now",
    "soon.hour": "in less than an hour",
    "soon.hours": "in {n} hours",
    "soon.hours.one": "in {n} hour",
    "soon.days": "in {n} days",
    "reminder": "monitoring check: {due}",
    "reminder.renewal": "monitoring check: {due}; renewal: {left} left",
    "reminder.overdue": "{days} overdue",
    "reminder.today": "due today",
    "reminder.in": "due in {days}",
    "days": "{n} days",
    "days.one": "1 day",
    # why a check is no evidence
    "refused.practice": "it was practice, not a check for the record",
    "refused.feedback": "it gave feedback, and a check gives none",
    "refused.drill": "its drill is {drill}, and the criterion is for {drills}",
    "refused.halves": "it asked for half tenths, and the criterion's spread includes rounding to a tenth",
    "refused.instrument": "its instrument {instrument} is not in the catalogue of this version",
    "refused.scope": "its instrument is {instrument}: {reason}",
    "refused.turned": "the scale was turned by {angle} degrees, and the criterion is for {low} to {high}",
    "refused.sight": "it was read with {seen}, which the criterion's conditions do not name",
    "refused.wavering": (
        "its offsets were dealt where the person wavered, and a rate takes offsets evenly spread"
    ),
    "refused.tolerance": "its tolerance was {own} tenths, and the criterion is for {wanted}",
    "refused.range": "its largest offset was {own} tenths, and the criterion is for {wanted}",
    "refused.replay": "it was dealt from the same seed as {other}",
    "refused.after": "it was taken after an attempt had ended without success",
    "refused.behind": (
        "it was taken after check {check}, opened for {opened_for}, which led to no sign-off, and before a "
        "new attempt was opened"
    ),
    "sight.magnification": "loupe",
    "sight.blur_mm": "blur",
    "sight.contrast": "low contrast",
    "sight.glare": "glare",
    "sight.wear": "worn lines",
    "sight.dirt": "dirt",
    "sight.eye_offset_mm": "parallax",
    "scope.unit": "it reads in {own}, and the criterion is for {wanted}",
    "scope.unit.mm": "millimetres",
    "scope.unit.in": "inches",
    "scope.kind": "it is a {kind} micrometer, and the criterion is for {kinds}",
    "scope.vernier.has": "it has a vernier, and the criterion is for scales without",
    "scope.vernier.none": "it has no vernier, and the criterion is for scales with one",
    # attempts, statements and changes that are refused
    "attempt.not-after": "attempt {n} is {sentence}; a new one follows one without success",
    "attempt.no-reason": "a new attempt needs a reason: what training came between; write it down",
    "attempt.early": (
        "attempt {n} ended without success on {day}; the criterion asks for {days} days of training, "
        "until {until}"
    ),
    "attempt.early.other": (
        "check {check} of {day}, opened for {opened_for}, has led to no sign-off; the criterion asks for "
        "{days} days of training, until {until}"
    ),
    "change.oneself": "{account} cannot {kind} for themself; ask another supervisor",
    "change.no-reason": "to {kind} takes a reason; write it down",
    "change.over": "the statement is {sentence}; it takes a new sign-off",
    "change.already": "the statement is {sentence} already",
    "change.not-suspended": "the statement is {sentence}; only a suspended one is reinstated",
    "change.clock": "the clock says {now}, before the last change; set the clock right",
    "act.suspend": "suspend",
    "act.withdraw": "withdraw",
    "act.reinstate": "reinstate",
    "act.set a condition": "set a condition",
    "act.add a person": "add a person",
    "act.rename a person": "rename a person",
    "act.put a person away": "put a person away",
    "act.start a check": "start a check",
    "act.open an attempt": "open an attempt",
    "act.sign": "sign",
    "act.countersign a key": "countersign a key",
    "act.revoke a key": "revoke a key",
    "act.recover an account": "recover an account",
    "act.pseudonymise a person": "pseudonymise a person",
    "act.export personal data": "export personal data",
    "act.back up the archive": "back up the archive",
    "act.move the archive": "move the archive",
    "act.merge archives": "merge archives",
    "act.change a setting": "change a setting",
    "act.take a check": "take a check",
    "act.attest an own check": "attest an own check",
    "act.see own records": "see own records",
    # why a check was not taken under its ticket, and why a ticket serves no longer
    "ticket.person": "the ticket is for another person",
    "ticket.early": "it began before the supervisor opened it",
    "ticket.late": "it began more than {hours} hours after the supervisor opened it",
    "ticket.plan": "its plan is {plan}, and the check was opened for {wanted} as it was then",
    "ticket.plan.changed": (
        "its plan {plan} has been changed, and the check was opened for {wanted} as it was then"
    ),
    "ticket.text": "it was opened for another text of {criterion}; a changed criterion starts anew",
    "ticket.criterion": "it was opened for {own}, not for {wanted}",
    "ticket.another-text": "another text of {criterion}",
    "ticket.none": "there is no ticket {text!r}; a supervisor opens a check with `tenthwise signoff check`",
    "ticket.not-served": "ticket {ticket} does not serve this check: {reason}",
    "ticket.not-served.open": (
        "ticket {ticket} does not serve this check: {reason}; it counts as it stands, have a supervisor open "
        "another check"
    ),
    "ticket.used": (
        "ticket {ticket} is used up: session {session} was begun under it; have a supervisor open another "
        "check"
    ),
    "ticket.used.open": (
        "ticket {ticket} is used up: session {session} was begun under it; go on with that one, or have a "
        "supervisor open another check"
    ),
    "ticket.own": "{account} cannot open their own check; ask another supervisor",
    "ticket.plan.none": (
        "the plan {plan} gives no evidence for {criterion}: {reason}; name another plan in the criterion"
    ),
    "not-allowed": "{account} may not {act}; that takes a {roles}",
    "not-allowed.key": "{account} cannot {act}: {fault}",
    "role.person": "person",
    "role.supervisor": "supervisor",
    "role.keeper": "keeper",
    "account.there": "there is an account {account!r} already; rotate or recover its key instead",
    "account.empty": "the account's name is empty; give one",
    "cannot-sign.oneself": "{account} cannot sign for themself; ask another supervisor",
    "cannot-sign.key": "{account} cannot sign: {fault}",
    "cannot-sign.open": "session {session} is still open; finish it, or sign when its hours are over",
    "cannot-sign.signed": (
        "attempt {n} was signed on {day} (statement {statement}); a renewal rests on new evidence"
    ),
    "cannot-sign.clock": "the clock says {now}, before the last session began; set the clock right",
    "cannot-sign.old": "the last session was on {day}, more than {days} days ago; take a check first",
    "cannot-sign": "{person}: {sentence}; there is nothing to sign yet",
    # keys and passphrases
    "key.there": "{file}: there is a key file already; name another file, or move it away first",
    "key.none": (
        "{file}: there is no key file; name it with --key-file, or have another supervisor recover the "
        "account"
    ),
    "key.unread": "{file}: the key file cannot be read: {reason}",
    "key.newer": "{account}: {fault}; use the account's newer key file",
    "key.later": "the key of {account} was made at {made}, later than this",
    "key.expired": "the key of {account} expired on {day}",
    "key.revoked": "the key of {account} is revoked since {since} ({kind}: {reason})",
    "passphrase.short": (
        "the passphrase has {n} characters; use at least {fewest}, for example four or five words that do "
        "not belong together"
    ),
    "passphrase.long": "the passphrase has {n} characters; {most} are the most",
    "passphrase.repeats": ("the passphrase repeats a few characters; use words that do not belong together"),
    "passphrase.little": (
        "without the account's name, repeated words, rows of characters and what everybody tries first, "
        "little of the passphrase is left; add words that do not belong together"
    ),
    "passphrase.counts": ("the passphrase counts up or down; use words that do not belong together"),
    "passphrase.wait": "too many wrong passphrases for this account; try again in {n} seconds",
    "passphrase.wait.one": "too many wrong passphrases for this account; try again in 1 second",
    "passphrase.wrong": "the account and the passphrase do not go together; try again",
    "may-not-sign.none": "no check taken yet",
    "may-not-sign.one": "1 check taken, not signed off",
    "may-not-sign": "{n} checks taken, not signed off",
    "may-not-sign.only": "only for {titles}",
    "more.about": "{least} to {most} more",
    "more.far": "over {furthest} more",
}
tell = teller(WORDS)


def another_text(criterion: str) -> Sentence:
    """Return how another text of a criterion is named."""
    return tell("ticket.another-text", criterion=criterion)
