"""What stands at the head and the end of every report: who, under what conditions, with what cautions."""

from dataclasses import dataclass

from trainer.reports.files import UnusableReport
from trainer.reports.house import BODY_PT, INK, MM_PER_IN, SERIF, SMALL_PT, SOFT
from trainer.reports.lettering import POINTS_PER_IN, lines, shortened
from trainer.reports.sheet import PAPERS, Sheets
from trainer.reports.wording import CAUTION, STANDING, Setting


@dataclass(frozen=True, slots=True)
class ReportHeader:
    """What a report says about itself; everything may be left out.

    `setting`: where the readings were made, on a screen, on a printed sheet or at the bench. `conditions`
    is one line of text. `prepared_at` is printed as given; without it a report bears no date and equal data
    give equal files. `remark` stands under the title, to say that data are invented, for instance. Limits
    are those of a criterion, in tenths, drawn into the figures; `criterion` is its title.
    """

    conditions: str = ""
    setting: Setting = "screen"
    prepared_at: str = ""
    prepared_by: str = ""
    remark: str = ""
    program_version: str = ""
    drawing_version: str = ""
    bias_limit_tenths: float | None = None
    spread_limit_tenths: float | None = None
    paper: str = "a4"
    criterion: str = ""

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise UnusableReport(f"paper {self.paper!r} is not known; choose one of {', '.join(PAPERS)}")
        if self.setting not in CAUTION:
            raise UnusableReport(f"setting {self.setting!r} is not known; choose one of {', '.join(CAUTION)}")


def title_block(
    sheets: Sheets,
    kind: str,
    title: str,
    facts: list[tuple[str, str]],
    header: ReportHeader,
    *,
    most_lines: int = 5,
) -> None:
    """Set the kind of report, its title and facts in two columns, each cut after `most_lines` lines."""
    sheets.line(kind.upper(), size_pt=6.5, colour=SOFT)
    sheets.skip(8.5)
    size = 19.0
    sheets.line(shortened(title, size, sheets.width_mm, SERIF), size_pt=size, family=SERIF)
    sheets.skip(10.5)
    if header.remark:
        sheets.paragraph(header.remark, size_pt=BODY_PT, colour=SOFT, after_mm=0.5)
    sheets.skip(1.0)
    sheets.rule(colour=INK, weight_pt=0.9)
    sheets.skip(2.2)
    _facts(sheets, [(name, text) for name, text in facts if text], most_lines)


def _facts(sheets: Sheets, facts: list[tuple[str, str]], most_lines: int) -> None:
    """Set named facts in two columns, row by row; a long one takes more lines."""
    column, gap, name_mm = (sheets.width_mm - 6.0) / 2, 6.0, 20.0
    step = BODY_PT * 1.42 * MM_PER_IN / POINTS_PER_IN
    for start in range(0, len(facts), 2):
        deepest = 1
        for side, (name, text) in enumerate(facts[start : start + 2]):
            x = sheets.left_mm + side * (column + gap)
            sheets.line(name, x, size_pt=SMALL_PT, colour=SOFT)
            room = column - name_mm
            broken = lines(text, BODY_PT, room)
            if len(broken) > most_lines:
                rest = " ".join(broken[most_lines - 1 :])
                broken = [*broken[: most_lines - 1], shortened(rest, BODY_PT, room)]
            for row, one in enumerate(broken):
                base = sheets.y_mm + BODY_PT * MM_PER_IN / POINTS_PER_IN + row * step
                sheets.line(one, x + name_mm, base, size_pt=BODY_PT)
            deepest = max(deepest, len(broken))
        sheets.skip(deepest * step + 0.5)
    sheets.skip(2.0)


def closing(sheets: Sheets, methods: list[str], header: ReportHeader) -> None:
    """Set how the numbers were made, what they are not, and by which program."""
    sheets.heading("How these figures are made", keep_mm=30.0)
    for text in methods:
        sheets.paragraph(text, size_pt=SMALL_PT, colour=SOFT, after_mm=1.2)
    sheets.skip(1.5)
    sheets.caution(STANDING)
    made = [
        f"Tenthwise {header.program_version}" if header.program_version else "Tenthwise",
        f"pictures {header.drawing_version}" if header.drawing_version else "",
        f"prepared {header.prepared_at}" if header.prepared_at else "",
        f"by {header.prepared_by}" if header.prepared_by else "",
    ]
    sheets.paragraph(", ".join(part for part in made if part) + ".", size_pt=SMALL_PT, colour=SOFT)
