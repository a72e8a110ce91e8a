"""Risk against tolerance as a figure of its own."""

from trainer.reports.capability import Capability, risk_curves
from trainer.reports.capability_words import UM_PER_IN, decimal, sentence
from trainer.reports.figures_risk import Curve, risk_against_tolerance
from trainer.reports.house import (
    BODY_PT,
    INK,
    SANS,
    SMALL_PT,
    SOFT,
    figure_to_pdf,
    figure_to_png,
    manner,
    new_figure,
)
from trainer.reports.lettering import lines

WIDTH_MM, HEIGHT_MM = 150.0, 105.0


def drawn(capability: Capability, who: str, kind: str, *, inch: bool = False) -> bytes:
    """Return the figure as a PNG (".png") or PDF file (".pdf"); with `inch` its tolerances are in inches."""
    with manner():
        figure = new_figure(WIDTH_MM, HEIGHT_MM)
        top = 8.0
        for text in lines(sentence(capability, who, inch=inch), BODY_PT, WIDTH_MM - 22.0):
            place = (12 / WIDTH_MM, 1 - top / HEIGHT_MM)
            figure.text(*place, text, fontsize=BODY_PT, family=SANS, color=INK, parse_math=False)
            top += 4.4
        ax = figure.add_axes((22 / WIDTH_MM, 22 / HEIGHT_MM, 120 / WIDTH_MM, 57 / HEIGHT_MM))
        reach_um, accept, reject = risk_curves(capability)
        per_um = 1 / UM_PER_IN if inch else 1.0
        reach = reach_um * per_um
        risk_against_tolerance(
            [Curve("false accept", reach, accept), Curve("false reject", reach, reject)],
            ax,
            unit="in" if inch else "µm",
            tolerance=capability.demand.tolerance_um * per_um,
            accepted=capability.demand.false_accept,
            told=decimal if inch else None,
        )
        share = f"{100 * capability.risks.conforming:.3g} %"
        note = f"Items spread so that {share} of them conform at every tolerance; drawn without a guard band."
        figure.text(
            12 / WIDTH_MM, 5 / HEIGHT_MM, note, fontsize=SMALL_PT, family=SANS, color=SOFT, parse_math=False
        )
        if kind == ".pdf":
            return figure_to_pdf(figure, title=f"Capability: {who}", subject="Risk against tolerance")
        return figure_to_png(figure)
