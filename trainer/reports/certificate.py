"""The certificate: a signed statement on one page, and the figure of what a criterion costs."""

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
    BODY_PT,
    INK,
    MM_PER_IN,
    SANS,
    SMALL_PT,
    SOFT,
    dress,
    figure_to_pdf,
    figure_to_png,
    figures_to_pdf,
    label,
    manner,
    new_figure,
)
from trainer.reports.lettering import POINTS_PER_IN, lines, shortened
from trainer.reports.sheet import LEADING, PAPERS, Column, Sheets
from trainer.reports.wording import count, true_minus
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
AFTER_MM = 0.8  # below each sentence of the closing sections
HEADING_MM = 10.0


def write(path: Path, document: Mapping[str, Any], *, paper: str = "a4") -> Path:
    """Write a statement as a one-page PDF. The file that is signed is the JSON; this page shows it."""
    body = document["body"]
    with manner():
        sheets = Sheets(PAPERS[paper], f"Statement {body['id']}, {body['person']['name']}")
        title = "statement of reading skill"
        title_block(sheets, title, body["person"]["name"], _facts(body), ReportHeader(), most_lines=3)
        sheets.heading("What was shown")
        widths = {"": 34, "found": 24, "95 % interval": 38, "limit": 22, "verdict": 40}
        columns = [Column(name, width) for name, width in widths.items()]
        limits = body["decision"]["limits"]
        sheets.table(columns, [_row(one) for one in limits])
        _margins(sheets, limits)
        if body["conditions"]:
            sheets.heading("Conditions", keep_mm=6)
            sheets.bullets([true_minus(one) for one in body["conditions"]])
        limits_told, how = [true_minus(one) for one in body["limitations"]], _to_verify(document)
        _checks(sheets, body["evidence"], _height_mm(sheets, limits_told, how))
        sheets.heading("What this does not say", keep_mm=10)
        sheets.bullets(limits_told, size_pt=SMALL_PT)
        sheets.heading("To verify", keep_mm=10)
        for words in how:
            sheets.paragraph(words, size_pt=SMALL_PT, after_mm=AFTER_MM)
        sheets.number_pages()
    return write_whole(path, figures_to_pdf(sheets.pages, title=f"Statement {body['id']}"))


def _to_verify(document: Mapping[str, Any]) -> list[str]:
    """Return how the statement is verified, and what it is known by."""
    body = document["body"]
    return [
        "The signed file is the JSON statement; this page can be altered and proves nothing by itself. "
        "Check the file by the command tenthwise verify FILE, or by hand with the laboratory's public key.",
        f"SHA-256 of the signed bytes: {fingerprint(document)}",
        f"Key: {body['supervisor']['key']}; statement: {body['id']}",
        f"Criterion, SHA-256: {body['criterion']['sha256']}",
    ]


def _height_mm(sheets: Sheets, limitations: Sequence[str], how: Sequence[str]) -> float:
    """Return the height that limitations and how to verify take, headings included."""
    step = SMALL_PT * LEADING * MM_PER_IN / POINTS_PER_IN
    broken = [lines(one, SMALL_PT, sheets.width_mm - 4.0) for one in limitations]
    broken += [lines(one, SMALL_PT, sheets.width_mm) for one in how]
    return 2 * HEADING_MM + sum(step * len(one) + AFTER_MM for one in broken) + 1.0


def _facts(body: Mapping[str, Any]) -> list[tuple[str, str]]:
    decision = body["decision"]
    of = "judgement" if any(one["name"] == "judgement" for one in decision["limits"]) else "reading"
    sittings = count(decision["sittings"], "sitting")
    return [
        ("Criterion", body["criterion"]["title"]),
        ("Signed by", body["supervisor"]["account"]),
        ("Signed at", f"{body['signed_at'][:16].replace('T', ' ')} UTC"),
        ("Valid", f"{body['valid_from'][:10]} until {body['valid_until'][:10]}"),
        ("Evidence", f"{count(decision['readings'], of)} in {sittings}"),
        ("Attempt", str(body["attempt"]["number"])),
        *_attested(body["evidence"]),
    ]


def _attested(evidence: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return the line about attested checks; statements of earlier versions say nothing of them."""
    if not all("attested" in one for one in evidence):
        return []
    attested = sum(bool(one["attested"]) for one in evidence)
    return [("Attested", f"by the person in {attested} of {count(len(evidence), 'check')}")]


def _checks(sheets: Sheets, evidence: Sequence[Mapping[str, Any]], rest_mm: float) -> None:
    """List the checks with what stands on their record, as many as leave the page room for the rest."""
    sheets.heading("The checks", keep_mm=20)
    judging = any("judged" in one for one in evidence)
    names = (
        ("judgements", "false accepts", "false rejects") if judging else ("readings", "misreads", "not given")
    )
    widths = (30, 20, 20, 20, 16, 68)
    heads = ("begun (UTC)", *names, "attested", "on the record")
    columns = [Column(name, width) for name, width in zip(heads, widths, strict=True)]
    step = SMALL_PT * 1.75 * MM_PER_IN / POINTS_PER_IN
    room = max(3, int((sheets.room_mm - rest_mm - 4.0) / step) - 1)  # the headings take a row
    shown = evidence if len(evidence) <= room else evidence[: room - 1]
    sheets.table(columns, [_check(one, judging) for one in shown], size_pt=SMALL_PT)
    if left := len(evidence) - len(shown):
        sheets.paragraph(f"and {count(left, 'more check')}, in the signed file", size_pt=SMALL_PT)


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
    return [name, true_minus(found), true_minus(ends), limit, one["verdict"]]


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
    ax.xaxis.set_major_formatter(lambda value, _: true_minus(f"{value:g}"))
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
    width, height = 150.0, 108.0
    with manner():
        figure = new_figure(width, height)
        ax = figure.add_axes((18 / width, 25 / height, 126 / width, 60 / height))
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
        of = "judgements" if criterion.judges else "readings"
        most = f"First verdict after {found.first_possible} {of}, at most {found.at_most}."
        note = "Each line: simulated people whose one value is as shown, good in everything else."
        for text, up_mm, size, colour in (
            (criterion.title, height - 9.0, BODY_PT + 1.5, INK),
            (most, height - 14.0, SMALL_PT, SOFT),
            (note, 6.0, SMALL_PT, SOFT),
        ):
            line = shortened(text, size, width - 14.0)
            place = (7 / width, up_mm / height)
            figure.text(*place, line, fontsize=size, family=SANS, color=colour, parse_math=False)
    content = figure_to_pdf(figure) if path.suffix.lower() == ".pdf" else figure_to_png(figure)
    return write_whole(path, content)
