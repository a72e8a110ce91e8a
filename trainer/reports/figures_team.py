"""Figures of several people side by side: everyone's bias and spread, against a limit."""

from collections.abc import Sequence

from matplotlib.axes import Axes

from trainer.reports.house import ACCENT, FAINT, HAIR_PT, INK, LINE_PT, SMALL_PT, SOFT, WASH, dress
from trainer.reports.lettering import shortened
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore, Spread

MOST_TENTHS = 6.0  # an axis of the team never goes beyond


def team_bias(people: Sequence[PersonScore], ax: Axes, limit_tenths: float | None = None) -> Axes:
    """Draw everyone's bias with its interval, and around it the spread of single readings.

    The thick line is the 95 % interval of the bias, the thin one two spreads each way. People stand in the
    order given, from the top; those outside the limit are drawn as squares.
    """
    dress(ax, "bias (thin: two spreads each way), tenths")
    _rows(people, ax)
    ends = [limit_tenths or 0.0, 1.0]
    if limit_tenths is not None:
        _allowed(ax, -limit_tenths, limit_tenths)
    ax.axvline(0, color=INK, linewidth=0.6, zorder=1)
    for y, person in enumerate(people):
        bias, spread = person.bias_tenths, person.spread_tenths.value
        if bias.value is None:
            continue
        if spread is not None:
            span = [bias.value - 2 * spread, bias.value + 2 * spread]
            ax.plot(span, [y, y], color=SOFT, linewidth=0.5, zorder=2)
            ends += [abs(end) for end in span]
        _mark(ax, y, bias, outside=limit_tenths is not None and abs(bias.value) > limit_tenths)
    reach = min(1.05 * max(ends), MOST_TENTHS)
    ax.set_xlim(-reach, reach)
    return ax


def team_spread(
    people: Sequence[PersonScore], ax: Axes, limit_tenths: float | None = None, *, names: bool = False
) -> Axes:
    """Draw everyone's spread with its interval against a limit; rows as in `team_bias`."""
    dress(ax, "spread, tenths")
    _rows(people, ax, names=names)
    ends = [1.0, limit_tenths or 0.0]
    if limit_tenths is not None:
        _allowed(ax, 0.0, limit_tenths)
    for y, person in enumerate(people):
        spread = person.spread_tenths
        if spread.value is None:
            continue
        ends += [spread.value, spread.high or 0.0]
        _mark(ax, y, spread, outside=limit_tenths is not None and spread.value > limit_tenths)
    ax.set_xlim(0, min(1.08 * max(ends), MOST_TENTHS))
    return ax


def _rows(people: Sequence[PersonScore], ax: Axes, *, names: bool = True) -> None:
    ax.set_ylim(len(people) - 0.4, -0.6)
    ax.set_yticks(range(len(people)))
    texts = [shortened(person.person, SMALL_PT, 38.0) if names else "" for person in people]
    ax.set_yticklabels(texts, parse_math=False)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
    for y in range(len(people)):
        ax.axhline(y, color=FAINT, linewidth=HAIR_PT, zorder=0)


def _allowed(ax: Axes, low: float, high: float) -> None:
    ax.axvspan(low, high, facecolor=WASH, edgecolor="none", zorder=-1)
    for edge in {low, high} - {0.0}:
        ax.axvline(edge, color=ACCENT, linewidth=0.7, dashes=(5, 2.5), zorder=1)


def _mark(ax: Axes, y: float, value: Interval | Spread, *, outside: bool) -> None:
    """Draw an interval and its value: a disc, or a hollow square beyond the limit."""
    if value.low is not None and value.high is not None:
        ax.plot(
            [value.low, value.high], [y, y], color=INK, linewidth=2 * LINE_PT, zorder=3, solid_capstyle="butt"
        )
    shape = (
        {"marker": "s", "markerfacecolor": "white"} if outside else {"marker": "o", "markerfacecolor": INK}
    )
    colour = ACCENT if outside else INK
    ax.plot([value.value], [y], linestyle="none", markersize=4.5, markeredgecolor=colour, zorder=4, **shape)  # type: ignore[arg-type]
