"""The team's figure: one row a person; a bar for the interval of the bias, a thin line for the spread."""

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Plot, Series
from trainer.desktop.plots import nice_ticks
from trainer.desktop.results import TeamLine
from trainer.desktop.words import counted, say

MOST = 40  # people in the figure; the table shows them all


def team_plot(lines: tuple[TeamLine, ...], desk: Desk) -> Plot:
    """Return the figure of the people, the largest bias at the top."""
    known = [x for x in lines if x.score.bias_tenths.value is not None]
    known = sorted(known, key=lambda x: -abs(x.score.bias_tenths.value or 0))[:MOST][::-1]
    points, whiskers, reach = [], [], 1.0
    for place, x in enumerate(known):
        s = x.score
        bias = s.bias_tenths.value or 0.0
        low, high = s.bias_tenths.low, s.bias_tenths.high
        reach = max(reach, abs(bias) + (s.spread_tenths.value or 0.0))
        text = say(
            "team.point",
            name=x.person,
            bias=desk.tenths(bias),
            low=desk.tenths(low),
            high=desk.tenths(high),
            spread=desk.tenths(s.spread_tenths.value, sign=False),
            least=desk.tenths(s.spread_tenths.low, sign=False),
            most=desk.tenths(s.spread_tenths.high, sign=False),
            n=counted("count.readings", s.readings),
        )
        points.append((bias, float(place), text, x.person))
        whiskers.append(
            (bias if low is None else low, bias if high is None else high, s.spread_tenths.value or 0.0)
        )
    reach = min(6.0, reach * 1.1)
    return Plot(
        "team",
        (Series(tuple(points), "diamond", "ink", across=tuple(whiskers)),),
        say("team.plot.x"),
        say("team.plot"),
        (-reach, reach),
        (-0.7, max(0.7, len(known) - 0.3)),
        tuple((v, t.replace(".", desk.settings.decimal)) for v, t in nice_ticks(-reach, reach, 6)),
        tuple((float(i), x.person[:24]) for i, x in enumerate(known)),
        names=tuple(x.person[:24] for x in known),
        height=max(180.0, 70.0 + 30.0 * len(known)),
        empty=say("team.none"),
    )
