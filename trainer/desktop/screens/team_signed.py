"""Who may not yet sign for an instrument: words for the team's table, and a list beside its figure."""

from collections.abc import Mapping
from typing import Any

from trainer.desktop import results
from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Label
from trainer.desktop.results import TeamLine
from trainer.desktop.screens.parts import panel
from trainer.desktop.signing import MaySign
from trainer.desktop.words import say

MOST = 12  # people named beside the figure; the table names all


def signed_words(line: TeamLine, signed: Mapping[str, MaySign] | None) -> str:
    """Return until when a person may sign for an instrument; why not stands beside the table."""
    if not signed or line.person not in signed:
        return "\N{EN DASH}"
    until = signed[line.person].until.get(line.instrument)
    return say("team.signed.until", day=until) if until else say("team.signed.no")


def unsigned_panel(
    lines: tuple[TeamLine, ...], instrument: str, signed: Mapping[str, MaySign] | None, desk: Desk
) -> list[Any]:
    """Return the people shown who may not yet sign, each with the reason; nothing without a sign-off."""
    if not signed:
        return []
    without = [x for x in lines if x.person in signed and instrument not in signed[x.person].until]
    title = say("team.signed.title", instrument=desk.sentence(results.instrument_title(instrument)))
    if not without:
        return [panel(Label(title, "heading"), Label(say("team.signed.none"), tone="soft"))]
    told = [
        say("team.signed.line", person=x.person[:60], why=desk.sentence(signed[x.person].why_not))
        for x in without
    ]
    rest = ["\N{HORIZONTAL ELLIPSIS}"] if len(told) > MOST else []
    return [
        panel(Label(title, "heading"), *(Label(one, tone="soft") for one in (*told[:MOST], *rest)), gap=4)
    ]
