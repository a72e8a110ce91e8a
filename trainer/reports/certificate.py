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
    INK,
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
}


def write(path: Path, document: Mapping[str, Any], *, paper: str = "a4") -> Path:
    """Write a statement as a one-page PDF. The file that is signed is the JSON; this page shows it."""
    body = document["body"]
    with manner():
        sheets = Sheets(PAPERS[paper], f"Statement {body['id']}, {body['person']['name']}")
        facts = [
            ("Criterion", body["criterion"]["title"]),
            ("Signed by", body["supervisor"]["account"]),
            ("Signed at", body["signed_at"]),
            ("Valid", f"{body['valid_from'][:10]} until {body['valid_until'][:10]}"),
            (
                "Evidence",
                f"{body['decision']['readings']} readings in {body['decision']['sittings']} sittings",
            ),
            ("Attempt", str(body["attempt"]["number"])),
            *_attested(body["evidence"]),
        ]
        title_block(sheets, "statement of reading skill", body["person"]["name"], facts, ReportHeader())
        sheets.heading("What was shown")
        widths = {"": 34, "found": 24, "95 % interval": 38, "limit": 22, "verdict": 40}
        columns = [Column(name, width) for name, width in widths.items()]
        sheets.table(columns, [_row(one) for one in body["decision"]["limits"]])
        sheets.skip(4.0)
        _margins(sheets.axes(24.0, left_mm=34.0), body["decision"]["limits"])
        if body["conditions"]:
            sheets.heading("Conditions", keep_mm=6)
            sheets.bullets(body["conditions"])
        sheets.heading("What this does not say", keep_mm=10)
        sheets.bullets(body["limitations"], size_pt=SMALL_PT)
        sheets.heading("To verify", keep_mm=10)
        sheets.paragraph(
            "The signed file is the JSON statement; this page can be altered and proves nothing by itself. "
            "Check the file with `tenthwise verify`, or by hand with the laboratory's public key.",
            size_pt=SMALL_PT,
        )
        sheets.paragraph(f"SHA-256 of the signed bytes: {fingerprint(document)}", size_pt=SMALL_PT)
        sheets.paragraph(f"Key: {body['supervisor']['key']}; statement: {body['id']}", size_pt=SMALL_PT)
        sheets.paragraph(f"Criterion, SHA-256: {body['criterion']['sha256']}", size_pt=SMALL_PT)
        sheets.number_pages()
    return write_whole(path, figures_to_pdf(sheets.pages, title=f"Statement {body['id']}"))


def _attested(evidence: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return the line about attested checks; statements of earlier versions say nothing of them."""
    if not all("attested" in one for one in evidence):
        return []
    count = sum(bool(one["attested"]) for one in evidence)
    return [("Attested", f"by the person in {count} of {len(evidence)} checks")]


def _row(one: Mapping[str, Any]) -> list[str]:
    rate = one["count"] is not None
    name = NAMES[one["name"]]
    if rate:
        found, limit = f"{one['count']} of {one['of']}", f"below {100 * one['limit']:g} %"
        ends = f"{100 * one['low']:.1f} to {100 * one['high']:.1f} %" if one["low"] is not None else "-"
    else:
        found, limit = (
            f"{one['value']:+.2f}" if one["name"] == "bias" else f"{one['value']:.2f}",
            f"{one['limit']:g}",
        )
        ends = f"{one['low']:.2f} to {one['high']:.2f}" if one["low"] is not None else "-"
    return [name, found, ends, limit, one["verdict"]]


def _margins(ax: Axes, limits: list[Mapping[str, Any]]) -> Axes:
    """Draw each limit's interval as a share of the limit; the bias may lie on either side."""
    dress(ax, "share of the limit")
    for y, one in enumerate(reversed(limits)):
        value, low, high = (one[name] / one["limit"] for name in ("value", "low", "high"))
        ax.plot([low, high], [y, y], color=INK, linewidth=1.2)
        ax.plot([value], [y], "o", color=INK, markersize=3.5)
    ax.set_yticks(range(len(limits)), [NAMES[one["name"]] for one in reversed(limits)])
    ax.set_ylim(-0.6, len(limits) - 0.4)
    for edge in (-1.0, 1.0):
        ax.axvline(edge, color=ACCENT, linewidth=0.9, dashes=(5, 2.5))
    label(ax, 1.0, 1.03, "limit", transform=ax.get_xaxis_transform(), ha="center", va="bottom", color=SOFT)
    return ax


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
