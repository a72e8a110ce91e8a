"""A quote as text, Markdown, or a workbook: one paragraph and a small table."""

from collections.abc import Sequence
from typing import Any

from trainer.instrument import catalogue
from trainer.reports.quote import Amount, Quote
from trainer.reports.wording import (
    CAUTION,
    KIND_WORDS,
    NONE,
    STANDING,
    aligned,
    count,
    direction,
    fixed,
    in_tenths,
    lengths,
    percent,
    percents,
    true_minus,
    two_figures,
)
from trainer.reports.workbook import Field, Table

SPAN = "95 % interval"
HEADINGS = ("", "tenths", SPAN, "µm", SPAN, "0.0001 in", SPAN, "df")
SOURCES = {"screen": "pictures on a screen", "sheet": "printed sheets", "bench": "a real instrument"}


def title(quote: Quote) -> str:
    """Return what the quote is about, in a line."""
    who = quote.people[0] if not quote.team else f"a reading by any of {len(quote.people)} people"
    return f"Reading between the graduations: {who}, {instrument_title(quote.instrument)}"


def instrument_title(instrument: str | None) -> str:
    """Return an instrument's title with what a tenth of its division is."""
    if instrument is None or instrument not in catalogue.names():
        return instrument or "instrument not recorded"
    one = catalogue.load(instrument)
    size = "1 µm" if one.unit == "mm" and one.tenth_um == 1 else f"{one.tenth_um:g} µm"
    if one.unit == "in":
        size = f"{1 / one.tenths_per_unit:g} in"
    name = one.title[:1].lower() + one.title[1:]
    return f"{name} (a tenth of a division is {size})"


def paragraph(quote: Quote) -> str:
    """Return the quote in one paragraph, fit to be pasted into a budget."""
    return " ".join(_sentences(quote))


def _sentences(quote: Quote) -> list[str]:
    who = quote.people[0] if not quote.team else ", ".join(quote.people)
    days = quote.first_day if quote.first_day == quote.last_day else f"{quote.first_day} to {quote.last_day}"
    when = f", {days}" if quote.first_day else ""
    under = f" ({quote.conditions})" if quote.conditions else ""
    return [
        f"Estimation of tenths by {who} on {instrument_title(quote.instrument)}, from "
        f"{count(quote.readings, 'reading')} of {SOURCES[quote.setting]} in "
        f"{count(quote.sessions, 'session')}{when}{under}.",
        _bias(quote),
        _spread(quote),
        _uncertainty(quote),
        _excluded(quote),
        *([f"Validity: {true_minus(quote.validity)}."] if quote.beside else []),
        CAUTION[quote.setting],
        f"Method: {quote.method}.",
    ]


def _bias(quote: Quote) -> str:
    bias, value = quote.bias, quote.bias.tenths
    name = "Bias" if not quote.team else "Mean bias"
    if value is None:
        return f"{name}: not known."
    clear = bias.low is not None and bias.high is not None and not bias.low <= 0 <= bias.high
    way = f", reading {direction(value)}" if clear else ""
    return f"{name} {in_tenths(value, sign=True)}{_span(bias)}{way}."


def _spread(quote: Quote) -> str:
    spread = quote.spread
    df = f", {fixed(spread.df, 0)} degrees of freedom" if spread.df is not None else ""
    named = "Spread" if not quote.team else "Spread of a reading by any one of them"
    parts = ""
    if quote.team and quote.within and quote.between:
        parts = (
            f" (within a person {fixed(quote.within.tenths)}, between people {fixed(quote.between.tenths)})"
        )
    return f"{named} {in_tenths(spread.tenths or 0.0)}{_span(spread)}{df}{parts}, rounding included."


def _uncertainty(quote: Quote) -> str:
    left, corrected = quote.u, quote.u_corrected
    take_off = in_tenths(-(quote.bias.tenths or 0.0), sign=True)
    return (
        f"Standard uncertainty of one reading: {_sized(quote, left)} where the bias is left in, "
        f"{_sized(quote, corrected)} where readings are corrected by {take_off}. "
        "The resolution of the estimate is inside these figures and is not to be added again."
    )


def _sized(quote: Quote, amount: Amount) -> str:
    """Return an uncertainty in tenths and in lengths, with its degrees of freedom."""
    size = lengths(amount.tenths, quote.um_per_tenth)
    parts = []
    if size.um is not None and size.ten_thousandths_in is not None:
        parts = [f"{two_figures(size.um)} µm", f"{two_figures(size.ten_thousandths_in / 10_000)} in"]
    if amount.df is not None:
        parts.append(f"{fixed(amount.df, 0)} degrees of freedom")
    return in_tenths(amount.tenths or 0.0) + (f" ({', '.join(parts)})" if parts else "")


def _excluded(quote: Quote) -> str:
    slips = sum(quote.misreads.values())
    if not slips:
        high = percent(quote.misread_rate.high)
        return f"None of {count(quote.readings, 'reading')} was a misread (rate below {high} at 95 %)."
    kinds = ", ".join(f"{KIND_WORDS.get(k, k)}: {n}" for k, n in sorted(quote.misreads.items(), key=_often))
    return (
        f"{slips} of {count(quote.readings, 'reading')} ({percent(quote.misread_rate.value)}, 95 % interval "
        f"{percents(quote.misread_rate)}) {'was a misread' if slips == 1 else 'were misreads'} and excluded "
        f"({kinds}); such slips are not covered by these figures and have to be guarded against otherwise."
    )


def _often(item: tuple[str, int]) -> tuple[int, str]:
    return -item[1], item[0]


def _span(amount: Amount) -> str:
    if amount.low is None or amount.high is None:
        return ""
    low, high = (fixed(end, sign=amount.signed) for end in (amount.low, amount.high))
    return f" (95 % interval {low} to {high})"


def rows(quote: Quote) -> list[tuple[str, ...]]:
    """Return the table as text."""
    table: list[tuple[str, ...]] = []
    for amount in quote.amounts:
        values, sign = amount.to_dict(quote.um_per_tenth), amount.signed
        cells = [amount.name]
        for unit in ("tenths", "um", "ten_thousandths_in"):
            low, high = values[f"low_{unit}"], values[f"high_{unit}"]
            known = low is not None and high is not None
            cells.append(fixed(values[unit], sign=sign))
            cells.append(f"{fixed(low, sign=sign)} to {fixed(high, sign=sign)}" if known else NONE)
        table.append((*cells, fixed(amount.df, 0)))
    return table


def as_text(quote: Quote, *, width: int = 100) -> str:
    """Return title, paragraph, table and notes as plain text."""
    import textwrap

    lines = [title(quote), "", *textwrap.wrap(paragraph(quote), width, break_long_words=False), ""]
    lines += aligned([HEADINGS, *rows(quote)])
    noted = [*_noted(quote), STANDING]
    lines += [
        "",
        *(line for note in noted for line in textwrap.wrap(f"- {note}", width, subsequent_indent="  ")),
    ]
    return "\n".join(lines) + "\n"


def _noted(quote: Quote) -> list[str]:
    notes = [f"{note[:1].upper()}{note[1:]}." for note in quote.notes]
    if quote.left_out:
        notes.append(f"Left out for want of readings: {', '.join(quote.left_out)}.")
    return notes


def as_markdown(quote: Quote) -> str:
    """Return title, paragraph, table and notes as Markdown."""
    lines = [f"**{_plain(title(quote))}**", "", _plain(paragraph(quote)), ""]
    lines += [f"| {' | '.join(HEADINGS)} |", "|---|" + "---:|" * (len(HEADINGS) - 1)]
    lines += [f"| {' | '.join(_plain(cell) for cell in row)} |" for row in rows(quote)]
    lines += ["", *(f"- {_plain(note)}" for note in [*_noted(quote), STANDING])]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """Return text without what Markdown would take for markup."""
    line = " ".join(text.split())
    return "".join(f"\\{sign}" if sign in "\\|*_`<>[]#" else sign for sign in line)


def tables(quote: Quote) -> list[Table]:
    """Return the quote as sheets of a workbook, numbers as numbers."""
    fields = [
        Field("quantity", "What the number is."),
        Field("tenths", "The number in tenths of a thimble division.", "tenths"),
        Field("low_tenths", "Lower end of its 95 % interval.", "tenths"),
        Field("high_tenths", "Upper end of its 95 % interval.", "tenths"),
        Field("um", "The number in micrometres.", "µm"),
        Field("low_um", "Lower end of its 95 % interval.", "µm"),
        Field("high_um", "Upper end of its 95 % interval.", "µm"),
        Field("ten_thousandths_in", "The number in ten-thousandths of an inch.", "0.0001 in"),
        Field("low_ten_thousandths_in", "Lower end of its 95 % interval.", "0.0001 in"),
        Field("high_ten_thousandths_in", "Upper end of its 95 % interval.", "0.0001 in"),
        Field("df", "Degrees of freedom."),
    ]
    body: list[Sequence[Any]] = []
    for amount in quote.amounts:
        values = amount.to_dict(quote.um_per_tenth)
        body.append((amount.name, *(values[field.name] for field in fields[1:])))
    rate = quote.misread_rate
    facts: list[Sequence[Any]] = [
        ("people", ", ".join(quote.people)),
        ("instrument", quote.instrument),
        ("read from", SOURCES[quote.setting]),
        ("validity", quote.validity),
        ("conditions", quote.conditions),
        ("first day", quote.first_day),
        ("last day", quote.last_day),
        ("sessions", quote.sessions),
        ("readings", quote.readings),
        ("usable readings", quote.used),
        ("misreads", sum(quote.misreads.values())),
        ("misread rate", rate.value),
        ("misread rate, low", rate.low),
        ("misread rate, high", rate.high),
        ("paragraph", paragraph(quote)),
        *(("note", note) for note in [*_noted(quote), STANDING]),
    ]
    about = [Field("fact", "What is told."), Field("value", "The fact; rates are shares from 0 to 1.")]
    return [Table("quote", fields, body, "What a reading is worth."), Table("evidence", about, facts)]
