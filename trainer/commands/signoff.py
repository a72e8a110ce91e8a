"""`tenthwise signoff`: criteria and their cost, checks, the decision, signing, standing."""

import os
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption, OutOption
from trainer.commands.output import print_json, progress, refuse_ending, tell_written, typed_number
from trainer.commands.passphrases import AccountOption, KeyFileOption, PassphraseFile, unlock
from trainer.commands.signoff_keys import keys
from trainer.commands.signoff_options import FIRST, CriterionOption, Person, Reason
from trainer.commands.signoff_statements import list_, sign, standing, write

if TYPE_CHECKING:
    from trainer.signoff.cost import Cost
    from trainer.signoff.decision import Decision, LimitVerdict

signoff = typer.Typer(no_args_is_help=True, help="Criteria, checks, verdicts, signed statements, standing.")
signoff.add_typer(keys, name="keys")


@signoff.command("criteria")
def criteria_(json: JsonOption = False) -> None:
    """List the shipped criteria and what each protects.

    Example: tenthwise signoff criteria
    """
    from trainer.signoff.criteria import shipped

    if json:
        print_json({"criteria": [{"name": c.name, "title": c.title, "text": c.text} for c in shipped()]})
        return
    for one in shipped():
        print(f"{one.name}: {one.title}\n{one.protects.strip()}\n")


@signoff.command()
def cost(
    criterion: Annotated[str, typer.Argument(help="A criterion's name or file.")],
    people: Annotated[
        int,
        typer.Option("--people", min=200, max=100_000, help="How many people are simulated for each reader."),
    ] = 2000,
    drift: Annotated[
        str,
        typer.Option("--drift", metavar="TENTHS", help="Standard deviation of the bias from day to day."),
    ] = "0.1",
    seed: Annotated[int, typer.Option("--seed", min=0, help="Seed of the simulation.")] = 1,
    json: JsonOption = False,
    out: OutOption = None,
) -> None:
    """Tell what a criterion costs before anyone is tested: readings, chances, risk at the limits.

    Example: tenthwise signoff cost first-level-metric --out cost.png

    Shares of simulated people who pass and fail; ≤ is the upper end of the share that passes.
    """
    import numpy as np

    from trainer.signoff.cost import cost as simulate
    from trainer.signoff.criteria import find

    refuse_ending(out, (".png", ".pdf"))
    drift_tenths = typed_number(drift, "--drift", 0, 2)

    with progress() as tell:
        found = simulate(
            find(criterion), people=people, drift_tenths=drift_tenths, chance=np.random.default_rng(seed),
            progress=lambda done, of: tell(f"{done} of {of}"),
        )  # fmt: skip
    if out is not None:
        from trainer.reports.certificate import write_cost

        write_cost(out, found, find(criterion))
    if json:
        print_json(found.to_dict())
    else:
        _print_cost(found)
    if out is not None:
        tell_written(out)


def _print_cost(found: "Cost") -> None:
    print(f"{found.criterion}: first verdict after {found.first_possible} readings, at most {found.at_most}")
    print(
        f"{'simulated reader':<24}{'passes':>9}{'≤ (95 %)':>10}{'fails':>8}{'readings':>10}{'quartiles':>16}"
    )
    for one in found.outcomes:
        low, middle, high = one.quartiles
        print(
            f"{one.name:<24}{100 * one.pass_rate:>7.1f} %{100 * one.pass_high:>8.1f} %"
            f"{100 * one.failed / one.people:>6.1f} %{one.mean_readings:>10.0f}"
            f"{f'{low:.0f}/{middle:.0f}/{high:.0f}':>16}"
        )


@signoff.command("check")
def check_(
    person: Person,
    account: AccountOption,
    criterion: CriterionOption = FIRST,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Open a check: a supervisor attests who sits there. Prints the ticket that the session must name.

    Example: tenthwise signoff check "Kim Vale" --as "Ruth Amsel"
    """
    from trainer.records import office
    from trainer.records.archive import Archive
    from trainer.signoff import guard
    from trainer.signoff.criteria import find
    from trainer.signoff.waiting import waited_for

    asked = find(criterion)
    with Archive.open(archive, create=False) as opened:
        known = opened.person(person)
        key = unlock(opened, account, key_file, passphrase_file)
        made = office.start_check(opened, key, account, asked, known.id, known.name)
        found, now = office.verdicts(opened, asked, known.id), office.now(opened)
        waits = waited_for(asked, found, now) if found.may_open(now) else ""
    if json:
        print_json({"ticket": made.id, "plan": made.plan, "person": known.name, "waits_for": waits})
    else:
        if waits:
            print(f"this check will count in no attempt, for monitoring alone; waits for: {waits}")
        print(f"ticket {made.id}, good for {guard.TICKET_HOURS:g} hours: {guard.ATTESTS}")
        named = archive is not None and archive != os.environ.get("TENTHWISE_ARCHIVE")
        where = f' --archive "{archive}"' if named else ""
        asked_of = f'--person "{known.name}" --ticket {made.id}{where}'
        print(f"begin it here with: tenthwise drill {made.plan} {asked_of}")


@signoff.command()
def status(
    person: Person,
    criterion: CriterionOption = FIRST,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Tell the verdict so far: shown, not yet shown and about how many more, or shown to fail.

    In brackets are ordinary 95 % intervals; a verdict rests on bounds that are more cautious. Ends with 0
    when everything is shown and no attempt without success came after it, else with 1.
    Example: tenthwise signoff status "Kim Vale" --criterion first-level-metric
    """
    from trainer.records import checks, office, statements
    from trainer.records.archive import Archive
    from trainer.signoff.criteria import find
    from trainer.signoff.statement import evidence_row, signable
    from trainer.signoff.waiting import waited_for

    with Archive.open(archive, create=False) as opened:
        known = opened.person(person)
        asked, now = find(criterion), office.now(opened)
        found = office.verdicts(opened, asked, known.id)
        records = checks.records(opened, known.id)
        signed = statements.signed_attempts(opened, asked, known.id)
    waits = waited_for(asked, found, now, signed=signed)
    rows = {
        one.id: evidence_row(one, records.get(one.id), attended=asked.attended)
        for attempt in found.attempts
        for one in attempt.sessions
    }
    if json:
        attempts = [
            {"number": one.number, **one.decision.to_dict(), "checks": [rows[own.id] for own in one.sessions]}
            for one in found.attempts
        ]
        not_counted = [{"session": one.id, "reason": one.reason} for one in found.refused]
        print_json(
            {"person": known.name, "attempts": attempts, "not_counted": not_counted, "waits_for": waits}
        )
    else:
        for one in found.attempts:
            print(f"attempt {one.number}: {one.decision.sentence}")
            _print_limits(one.decision)
        for row in rows.values():
            if row["flags"]:
                print(f"session {row['session']} counts; on its record: {'; '.join(row['flags'])}")
        for session in found.refused:
            print(f"session {session.id} does not count: {session.reason}")
        print(f"waits for: {waits}")
    raise typer.Exit(1 if signable(found) is None else 0)


def _print_limits(decision: "Decision") -> None:
    from trainer.signoff.words import tell

    names = {one.name: tell(f"limit.{one.name}") for one in decision.limits}
    if not decision.readings:
        limits = (f"{names[one.name]} {_limit_words(one)}" for one in decision.limits)
        print(f"  limits: {', '.join(limits)}")
        return
    width = max(map(len, names.values())) + 2
    for one in decision.limits:
        more = "" if decision.ended else f"; {one.forecast.words}"
        found = f"{names[one.name]:<{width}}{_estimate_words(one)}, limit {_limit_words(one)}"
        print(f"  {found}: {one.verdict}{more}")


def _limit_words(one: "LimitVerdict") -> str:
    """Return a limit with its unit: a rate has points to reach, bias and spread have none."""
    if one.needed is None:
        return f"{one.limit:g} tenth{'' if one.limit == 1 else 's'}"
    return f"{100 * one.limit:g} %"


def _estimate_words(one: "LimitVerdict") -> str:
    """Return what was found with its 95 % interval; a rate as a count, since 0 % is never shown."""
    from trainer.commands.score_numbers import NONE, with_ends

    if one.needed is None:
        return with_ends(one.estimate, signed=one.name == "bias")
    low, high = one.estimate.low, one.estimate.high
    ends = NONE if low is None or high is None else f"{100 * low:.1f}, {100 * high:.1f} %"
    return f"{one.count} of {one.of} [{ends}]"


@signoff.command()
def attempt(
    person: Person,
    account: AccountOption,
    reason: Reason,
    criterion: CriterionOption = FIRST,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Open a new attempt after one without success: it needs a reason, a waiting time, new evidence.

    Example: tenthwise signoff attempt "Kim Vale" --as "Ruth Amsel" --reason "two weeks of drills"
    """
    from trainer.records import office
    from trainer.records.archive import Archive
    from trainer.signoff.criteria import find

    with Archive.open(archive, create=False) as opened:
        known, asked = opened.person(person), find(criterion)
        key = unlock(opened, account, key_file, passphrase_file)
        made = office.open_attempt(opened, key, account, asked, known.id, reason)
    if json:
        print_json({"person": known.name, "criterion": asked.name, "open_from": made.at.isoformat()})
        return
    print(f"a new attempt is open from {made.at:%Y-%m-%d %H:%M} UTC; earlier sessions do not count in it")


signoff.command()(sign)
signoff.command()(write)
signoff.command("list")(list_)
signoff.command()(standing)
