"""`tenthwise capability`: may a person, or anyone of a team, verify a tolerance with an instrument?"""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.lengths import UM_PER_UNIT
from trainer.commands.options import (
    ArchiveOption,
    InstrumentOption,
    JsonOption,
    PracticeOption,
    ProvisionalOption,
    SettingOption,
    SinceOption,
)
from trainer.commands.output import refuse_ending, tell_written
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.reports.capability import Capability, Reading
    from trainer.reports.quote import Quote

# Limits of error customary for outside micrometers of this size: common practice, no source.
CUSTOMARY_UM = {"mm": 2.0, "in": 2.54}
DRAWN = (".png", ".pdf")
LENGTH = re.compile(r"(?P<figures>[^a-zµμ]+)(?P<unit>[a-zµμ]+)\.?", re.IGNORECASE)


def capability(
    people: Annotated[
        list[str] | None, typer.Argument(metavar="PERSON", help="Whose readings; several: a team.")
    ] = None,
    tolerance: Annotated[
        str,
        typer.Option(
            "--tolerance", metavar="LENGTH", help="± this much, with its unit: 2um, 0.0001in, or customary."
        ),
    ] = "customary",
    instrument: InstrumentOption = None,
    team: Annotated[
        bool, typer.Option("--team", help="Everybody with enough readings, as one team.")
    ] = False,
    spread: Annotated[
        str | None,
        typer.Option(
            "--spread", metavar="LENGTH", help="Standard deviation of the items' errors, with its unit."
        ),
    ] = None,
    conforming: Annotated[
        str,
        typer.Option("--conforming", metavar="SHARE", help="Else: the share of items expected to conform."),
    ] = "95%",
    mean: Annotated[
        str, typer.Option("--mean", metavar="LENGTH", help="Mean of the items' errors, with its unit.")
    ] = "0um",
    risk: Annotated[
        str,
        typer.Option("--risk", metavar="SHARE", help="Largest chance of a false accept, among all items."),
    ] = "2%",
    reject_risk: Annotated[
        str,
        typer.Option(
            "--reject-risk", metavar="SHARE", help="Largest chance of a false reject, among all items."
        ),
    ] = "10%",
    guard: Annotated[
        str, typer.Option("--guard", metavar="LENGTH", help="Guard band, with its unit.")
    ] = "0um",
    readings: Annotated[int, typer.Option("--readings", help="How many readings are averaged.")] = 1,
    other: Annotated[
        str,
        typer.Option(
            "--other", metavar="LENGTH", help="Standard uncertainty of all but the reading, with its unit."
        ),
    ] = "0um",
    corrected: Annotated[bool, typer.Option("--corrected", help="Readings are corrected for bias.")] = False,
    u: Annotated[
        str | None,
        typer.Option(
            "--u", metavar="LENGTH", help="Instead of people: a standard uncertainty, with its unit."
        ),
    ] = None,
    since: SinceOption = None,
    setting: SettingOption = None,
    practice: PracticeOption = False,
    provisional: ProvisionalOption = False,
    figure: Annotated[
        Path | None,
        typer.Option("--figure", metavar="FILE", help="Draw risk against tolerance (.png or .pdf)."),
    ] = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Tell whether a tolerance can be verified by eye: ratio, risks, guard band, averaging, verdict.

    Example: tenthwise capability Kim --instrument metric --tolerance 2um --risk 2%

    Risks are chances among all items, whose errors spread as told by --spread or --conforming. The customary
    tolerance is 2 um, or 0.0001 in on an inch instrument. Exits with 1 when the answer is no.
    """
    from trainer.reports import capability as judging

    refuse_ending(figure, DRAWN)
    if u is None and bool(people) == team:
        raise typer.BadParameter("name one or more people, or give --team, or give --u (only one of them)")
    if u is not None and (people or team):
        raise typer.BadParameter("--u stands instead of people; leave one of them out")
    wanted = _Wanted(people or [], team, instrument, since, setting, practice, provisional, archive)
    reading, quote = _reading(u, wanted, length("--other", other), corrected=corrected)
    limit = _tolerance(tolerance, quote.instrument if quote else instrument)
    sd = (
        length("--spread", spread)
        if spread is not None
        else judging.items_sd(limit, share("--conforming", conforming))
    )
    allowed = share("--risk", risk), share("--reject-risk", reject_risk)
    demand = judging.Demand(limit, sd, length("--mean", mean), *allowed)
    guard_um = length("--guard", guard)
    if guard_um >= limit:
        raise Refusal(f"--guard {guard} leaves nothing between the limits; keep it below the tolerance")
    found = judging.assess(reading, demand, readings=readings, guard_um=guard_um)
    who, inch = _who(quote), _inch(quote.instrument if quote else instrument)
    if figure is not None:
        from trainer.reports import capability_figure
        from trainer.reports.files import write_whole

        write_whole(figure, capability_figure.drawn(found, who, figure.suffix.lower(), inch=inch))
    if json:
        _print_json(found, quote, who, inch=inch)
    else:
        _print(found, quote, who, inch=inch)
    if figure is not None:
        tell_written(figure)
    if found.answer == "no":
        raise typer.Exit(1)


def length(option: str, text: str) -> float:
    """Return a length in micrometres from text such as 2um, 0,0001 in or 0.002 mm.

    >>> length("--tolerance", "0,0001 in")
    2.54
    """
    from trainer.instrument.typed import UnreadableAnswer, number

    match = LENGTH.fullmatch(text.strip())
    unit = match["unit"].lower() if match else ""
    if match is None or unit not in UM_PER_UNIT:
        raise Refusal(f"{option} is {text!r}; give a number with its unit, such as 2um, 0.002mm or 0.0001in")
    try:
        return round(float(number(match["figures"])) * UM_PER_UNIT[unit], 12)
    except UnreadableAnswer as fault:
        raise Refusal(f"{option} is {text!r}: {fault}") from None


def share(option: str, text: str) -> float:
    """Return a share between 0 and 1 from text such as 0.02, 0,02 or 2 %.

    >>> share("--risk", "2 %"), share("--risk", "0,02")
    (0.02, 0.02)
    """
    from trainer.instrument.typed import UnreadableAnswer, number

    bare = text.strip()
    try:
        value = number(bare.removesuffix("%"))
    except UnreadableAnswer as fault:
        raise Refusal(f"{option} is {text!r}: {fault}") from None
    value = value / 100 if bare.endswith("%") else value
    if not 0 < value < 1:
        raise Refusal(f"{option} is {text!r}; give a share between 0 and 1 such as 0.02, or 2%")
    return float(value)


def _tolerance(text: str, instrument: str | None) -> float:
    if text != "customary":
        return length("--tolerance", text)
    if instrument is None:
        raise Refusal(
            "the customary tolerance depends on the instrument; name one by --instrument, or type it"
        )
    return CUSTOMARY_UM[catalogue.load(instrument).unit]


class _Wanted:
    """Whose readings are asked for, and which of them."""

    def __init__(self, people: list[str], team: bool, *rest: Any) -> None:
        self.people, self.team = people, team
        self.instrument, self.since, self.setting, self.practice, self.provisional, self.archive = rest


def _reading(
    u: str | None, wanted: _Wanted, other: float, *, corrected: bool
) -> "tuple[Reading, Quote | None]":
    from trainer.reports.capability import Reading, reading_of

    if u is not None:
        return Reading(0.0, 0.0, length("--u", u), other), None
    from trainer.commands.evidence import Wanted, since_date
    from trainer.commands.quote import quoted
    from trainer.records.archive import Archive

    filters = Wanted(wanted.instrument, since_date(wanted.since), wanted.setting, wanted.practice)
    with Archive.open(wanted.archive, create=False) as opened:
        quote = quoted(opened, wanted.people, filters, team=wanted.team, provisional=wanted.provisional)
    return reading_of(quote, corrected=corrected, other_um=other), quote


def _who(quote: "Quote | None") -> str:
    if quote is None:
        return "A measurement with this uncertainty"
    return f"Any of {len(quote.people)} people" if quote.team else quote.people[0]


def _inch(instrument: str | None) -> bool:
    """Return whether the readings are made on an inch instrument."""
    return instrument in catalogue.names() and catalogue.load(str(instrument)).unit == "in"


def _print_json(found: "Capability", quote: "Quote | None", who: str, *, inch: bool) -> None:
    from trainer.commands.output import print_json
    from trainer.reports.capability_words import cautions, sentence, what_stays

    said = {
        "verdict": sentence(found, who, inch=inch),
        "averaging_leaves": what_stays(found),
        "cautions": cautions(found, reading_only=quote is not None),
    }
    print_json(found.to_dict() | said | {"quote": quote.to_dict() if quote else None})


def _print(found: "Capability", quote: "Quote | None", who: str, *, inch: bool) -> None:
    from trainer.reports.capability_words import cautions, sentence, what_stays
    from trainer.reports.quote_text import instrument_title
    from trainer.reports.wording import CAUTION, STANDING, aligned, percent

    if quote is not None:
        typer.echo(f"{', '.join(quote.people)}: {instrument_title(quote.instrument)}")
    typer.echo(f"{sentence(found, who, inch=inch)}\n")
    typer.echo("\n".join(f"{name:<50}{text}" for name, text in _facts(found, inch=inch)))
    if found.reading.chance > 0:
        rows = [("readings averaged", "u, µm", "ratio", "false accept", "false reject")]
        for one in found.averaging:
            chances = percent(one.false_accept, 2), percent(one.false_reject, 2)
            rows.append((str(one.readings), f"{one.u_um:.3f}", f"{one.ratio:.2f}", *chances))
        typer.echo("\n" + "\n".join(aligned(rows)))
    said = cautions(found, reading_only=quote is not None)
    said += [what_stays(found)] if found.reading.chance > 0 else []
    if quote is not None:
        said += [f"{note[:1].upper()}{note[1:]}." for note in quote.notes] + [CAUTION[quote.setting]]
    typer.echo("\n" + "\n".join(f"- {one}" for one in [*said, STANDING]))


def _facts(found: "Capability", *, inch: bool) -> list[tuple[str, str]]:
    """Return the named numbers that the verdict rests on."""
    from trainer.reports.capability_words import tolerance_words
    from trainer.reports.wording import percent, two_figures

    risks, demand = found.risks, found.demand
    accepted, rejected = risks.false_accept_of_accepted, risks.false_reject_of_rejected
    facts = [
        ("tolerance", tolerance_words(demand.tolerance_um, inch=inch)),
        ("items expected to conform", percent(risks.conforming)),
        ("readings averaged", str(found.readings)),
        (
            "standard uncertainty",
            f"{two_figures(found.u_um)} µm, bias {_signed(found.reading.bias)} µm",
        ),
        ("expanded uncertainty, 95 %", f"{two_figures(found.expanded_um)} µm (k = {found.k:.2f})"),
        ("test uncertainty ratio", f"{found.ratio:.2f} to 1"),
        ("guard band", f"{found.guard_um:.3g} µm" if found.guard_um else "none"),
        ("false accept", f"{percent(risks.false_accept, 2)} of all, {percent(accepted, 2)} of accepted"),
        ("false reject", f"{percent(risks.false_reject, 2)} of all, {percent(rejected, 1)} of rejected"),
        ("items out of tolerance that are accepted", percent(found.missed)),
    ]
    if found.risks_high is not None:
        facts.append(("false accept, spread at its upper end", percent(found.risks_high.false_accept, 2)))
    within = f"at most {percent(demand.false_accept)}: accept within"
    for name, guard in (
        (f"false accept of all {within}", found.guard_needed_um),
        (f"of any one item {within}", found.guard_specific_um),
    ):
        band = "none that leaves anything" if guard is None else f"± {demand.tolerance_um - guard:.3g} µm"
        facts.append((name, band))
    return facts


def _signed(value: float) -> str:
    """Return a number with two figures and its sign; nought has none.

    >>> _signed(-1.06), _signed(0.0)
    ('−1.1', '0')
    """
    from trainer.reports.wording import true_minus

    return true_minus(f"{value:+.2g}") if value else "0"
