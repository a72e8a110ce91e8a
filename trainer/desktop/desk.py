"""What all screens share: settings, people, plans, the display, the time base. A value, never changed."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from trainer.desktop.look import scale_for
from trainer.desktop.settings import USUAL_PX_PER_MM, Display, Settings
from trainer.desktop.store import Person
from trainer.desktop.words import spoken
from trainer.practice.plan import Plan


@dataclass(frozen=True, slots=True)
class Desk:
    """The common ground of the screens.

    `began_utc` is the moment at which the clock stood at `began_s`; `display_name` tells displays apart.
    `people` is None until the archive has answered; `trouble` is the sentence when it would not.
    """

    settings: Settings = field(default_factory=Settings)
    size: tuple[int, int] = (1280, 720)
    auto_scale: float = 1.0
    person: Person | None = None
    people: tuple[Person, ...] | None = None
    plans: tuple[Plan, ...] = ()
    plan_troubles: tuple[str, ...] = ()
    languages: tuple[tuple[str, str], ...] = ()  # short name and title of each translation there is
    own_plans: frozenset[str] = frozenset()  # names of the plans that may be changed and deleted
    trouble: str = ""
    display_name: str = "display"
    resolution: tuple[int, int] = (0, 0)
    station: str = ""
    program_version: str = ""
    drawing_version: str = ""
    began_utc: datetime = datetime(2026, 1, 1, tzinfo=UTC)
    began_s: float = 0.0
    now_s: float = 0.0

    @property
    def scale(self) -> float:
        """The scale asked for, by the settings or else by the display."""
        return self.settings.scale or self.auto_scale

    @property
    def drawn_scale(self) -> float:
        """The scale in use: less than asked for only in a window too small for it."""
        return scale_for(self.size, self.scale)

    @property
    def display(self) -> Display | None:
        """The set-up of this display, None when it was never set up or its resolution has changed."""
        found = self.settings.displays.get(self.display_name)
        if found is None or (self.resolution != (0, 0) and found.resolution not in ((0, 0), self.resolution)):
            return None
        return found

    @property
    def px_per_mm(self) -> float:
        """Pixels a millimetre of this display; a usual value until it is set up."""
        return self.display.px_per_mm if self.display else USUAL_PX_PER_MM * self.auto_scale

    def utc(self, at_s: float) -> str:
        """Return the UTC time, ISO 8601 to the millisecond, of a moment of the clock."""
        moment = self.began_utc + timedelta(seconds=at_s - self.began_s)
        return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def number(self, text: str) -> str:
        """Return a number's text with the decimal mark of the settings and a true minus sign."""
        return text.replace("-", "\N{MINUS SIGN}").replace(".", self.settings.decimal)

    def sentence(self, text: str) -> str:
        """Return a sentence of the rules, or a title, as the window says it: in its language and marks."""
        return spoken(text, self.settings.decimal)

    def tenths(self, value: float | None, sign: bool = True, decimals: int = 2) -> str:
        """Return a value in tenths as text, a dash where there is none."""
        if value is None:
            return "\N{EN DASH}"
        value = round(value, decimals) + 0.0  # no minus before nought
        return self.number(f"{value:+.{decimals}f}" if sign else f"{value:.{decimals}f}")
