"""The certificate: a signed statement on one page, and the figure of what a criterion costs."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from trainer.reports.figures_risk import Curve, operating_characteristic
from trainer.reports.files import write_whole
from trainer.reports.heading import ReportHeader, title_block
from trainer.reports.house import (
    ACCENT,
    INK,
    MM_PER_IN,
    SMALL_PT,
    SOFT,
    dress,
    figure_to_pdf,
    figure_to_png,
    figures_to_pdf,
    label,
    manner,
    new_axes,
)
from trainer.reports.lettering import POINTS_PER_IN
from trainer.reports.sheet import PAPERS, Column, Sheets
from trainer.signoff.cost import Cost
from trainer.signoff.criterion import Criterion
from trainer.signoff.statement import fingerprint

NAMES = {
    "bias": "bias, tenths",
    "spread": "spread, tenths",
    "misreads": "misread rate",
    "pace": "slow readings",
    "judgement": "false accepts",
    "rejects": "false rejects",
}
FIGURE_MM = 22.0  # height of the figure
REST_MM = 78.0  # kept for limitations and how to verify


def write(path: Path, document: Mapping[str, Any], *, paper: str = "a4") -> Path:
    """Write a statement as a one-page PDF. The file that is signed is the JSON; this page shows it."""
    body = document["body"]
    with manner():
        sheets = Sheets(PAPERS[paper], f"Statement {body['id']}, {body['person']['name']}")
        title = "statement of reading skill"
        title_block(sheets, title, body["person"]["name"], _facts(body), ReportHeader())
        sheets.heading("What was shown")
        widths = {"": 34, "found": 24, "95 % interval": 38, "limit": 22, "verdict": 40}
        columns = [Column(name, width) for name, width in widths.items()]
        limits = body["decision"]["limits"]
        sheets.table(columns, [_row(one) for one in limits])
        _margins(sheets, limits)
        if body["conditions"]:
            sheets.heading("Conditions", keep_mm=6)
            sheets.bullets([minus(one) for one in body["conditions"]])
        _checks(sheets, body["evidence"])
        sheets.heading("What this does not say", keep_mm=10)
        sheets.bullets([minus(one) for one in body["limitations"]], size_pt=SMALL_PT)
        sheets.heading("To verify", keep_mm=10)
        sheets.paragraph(
            "The signed file is the JSON statement; this page can be altered and proves nothing by itself. "
            "Check the file by the command tenthwise verify FILE, or by hand with the laboratory's "
            "public key.",
            size_pt=SMALL_PT,
        )
        for words in (
            f"SHA-256 of the signed bytes: {fingerprint(document)}",
            f"Key: {body['supervisor']['key']}; statement: {body['id']}",
            f"Criterion, SHA-256: {body['criterion']['sha256']}",
        ):
            sheets.paragraph(words, size_pt=SMALL_PT, after_mm=0.6)
        sheets.number_pages()
    return write_whole(path, figures_to_pdf(sheets.pages, title=f"Statement {body['id']}"))


def minus(text: str) -> str:
    """Return a text whose negative numbers have a minus sign in place of a hyphen.

    >>> minus("turned by -15 to 15 degrees, first-level-2")
    'turned by −15 to 15 degrees, first-level-2'
    """
    return re.sub(r"(?<![\w-])-(?=\d)", "−", text)


def _facts(body: Mapping[str, Any]) -> list[tuple[str, str]]:
    decision = body["decision"]
    of = "judgements" if any(one["name"] == "judgement" for one in decision["limits"]) else "readings"
    return [
        ("Criterion", body["criterion"]["title"]),
        ("Signed by", body["supervisor"]["account"]),
        ("Signed at", f"{body['signed_at'][:16].replace('T', ' ')} UTC"),
        ("Valid", f"{body['valid_from'][:10]} until {body['valid_until'][:10]}"),
        ("Evidence", f"{decision['readings']} {of} in {decision['sittings']} sittings"),
        ("Attempt", str(body["attempt"]["number"])),
        *_attested(body["evidence"]),
    ]


def _attested(evidence: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return the line about attested checks; statements of earlier versions say nothing of them."""
    if not all("attested" in one for one in evidence):
        return []
    count = sum(bool(one["attested"]) for one in evidence)
    return [("Attested", f"by the person in {count} of {len(evidence)} checks")]


def _checks(sheets: Sheets, evidence: Sequence[Mapping[str, Any]]) -> None:
    """List the checks of the evidence with what stands on their record, as many as the page has room for."""
    sheets.heading("The checks", keep_mm=20)
    judging = any("judged" in one for one in evidence)
    names = (
        ("judgements", "false accepts", "false rejects") if judging else ("readings", "misreads", "not given")
    )
    widths = (30, 20, 20, 20, 16, 68)
    heads = ("begun (UTC)", *names, "attested", "on the record")
    columns = [Column(name, width) for name, width in zip(heads, widths, strict=True)]
    step = SMALL_PT * 1.75 * MM_PER_IN / POINTS_PER_IN
    room = max(3, int((sheets.room_mm - REST_MM) / step))
    shown = evidence if len(evidence) <= room else evidence[: room - 1]
    sheets.table(columns, [_check(one, judging) for one in shown], size_pt=SMALL_PT)
    if left := len(evidence) - len(shown):
        sheets.paragraph(f"and {left} more checks, in the signed file", size_pt=SMALL_PT)


def _check(one: Mapping[str, Any], judging: bool) -> list[str]:
    fields = (
        ("readings", "false_accepts", "false_rejects") if judging else ("readings", "misreads", "not_given")
    )
    attested = ("yes" if one["attested"] else "no") if "attested" in one else "–"
    record = "; ".join(one["flags"]) or "nothing out of the ordinary"
    begun = one["started_at"][:16].replace("T", " ")
    return [begun, *(str(one[name]) for name in fields), attested, record]


def _row(one: Mapping[str, Any]) -> list[str]:
    rate = one["count"] is not None
    name = NAMES[one["name"]]
    if rate:
        found, limit = f"{one['count']} of {one['of']}", f"below {100 * one['limit']:g} %"
        ends = f"{100 * one['low']:.1f} to {100 * one['high']:.1f} %" if one["low"] is not None else "–"
    else:
        found = f"{one['value']:+.2f}" if one["name"] == "bias" else f"{one['value']:.2f}"
        limit = f"±{one['limit']:g}" if one["name"] == "bias" else f"{one['limit']:g}"
        ends = f"{one['low']:.2f} to {one['high']:.2f}" if one["low"] is not None else "–"
    return [name, minus(found), minus(ends), limit, one["verdict"]]


def _margins(sheets: Sheets, limits: Sequence[Mapping[str, Any]]) -> None:
    """Draw each interval beside its limit: the bias on both sides of nought, the rest from nought up."""
    bias = [one for one in limits if one["name"] == "bias"]
    others = [one for one in limits if one["name"] != "bias"]
    half = (sheets.width_mm - 8.0) / 2
    sheets.skip(5.0)
    with sheets.column(0.0, half):
        if bias:
            _bias_margin(sheets.axes(FIGURE_MM, left_mm=2.0), bias[0])
    with sheets.column(half + 8.0 if bias else 0.0, half):
        ax = dress(sheets.axes(FIGURE_MM, left_mm=26.0), "share of the limit")
        for y, one in enumerate(reversed(others)):
            _interval(ax, y, *(one[name] / one["limit"] for name in ("value", "low", "high")))
        ax.set_yticks(range(len(others)), [NAMES[one["name"]] for one in reversed(others)])
        ax.set_ylim(-0.6, len(others) - 0.4)
        ax.set_xlim(0.0, max(1.25, *(1.05 * one["high"] / one["limit"] for one in others)))
        _limit(ax, 1.0, "limit")
    sheets.skip(FIGURE_MM + 10.0)


def _bias_margin(ax: Axes, one: Mapping[str, Any]) -> None:
    dress(ax, NAMES["bias"])
    limit = one["limit"]
    _interval(ax, 0.0, one["value"], one["low"], one["high"])
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.axvline(0.0, color=SOFT, linewidth=0.6)
    ax.set_ylim(-1.0, 1.0)
    ax.set_xlim(-1.25 * limit, 1.25 * limit)
    ax.xaxis.set_major_formatter(lambda value, _: minus(f"{value:g}"))
    ax.set_xticks([-limit, -limit / 2, 0.0, limit / 2, limit])
    for edge in (-limit, limit):
        _limit(ax, edge, "limit")


def _interval(ax: Axes, y: float, value: float, low: float, high: float) -> None:
    ax.plot([low, high], [y, y], color=INK, linewidth=1.2)
    ax.plot([value], [y], "o", color=INK, markersize=3.5, clip_on=False)


def _limit(ax: Axes, x: float, words: str) -> None:
    ax.axvline(x, color=ACCENT, linewidth=0.9, dashes=(5, 2.5))
    label(ax, x, 1.03, words, transform=ax.get_xaxis_transform(), ha="center", va="bottom", color=SOFT)


def write_cost(path: Path, found: Cost, criterion: Criterion) -> Path:
    """Write the operating characteristic of a criterion as PNG or PDF, by the file's ending."""
    with manner():
        ax = new_axes(140.0, 85.0)
        curves = [
            Curve(name, np.array([p[0] for p in points]), np.array([p[1] for p in points]))
            for name, points in found.curves.items()
        ]
        operating_characteristic(
            curves,
            ax,
            x_label="true value, as a share of its limit",
            limit=1.0,
            risk=1 - criterion.confidence,
        )
        figure = ax.figure
    content = figure_to_pdf(figure) if path.suffix.lower() == ".pdf" else figure_to_png(figure)  # type: ignore[arg-type]
    return write_whole(path, content)
