"""A simulated person who takes any drill, seeing and hearing only what the window shows and asks."""

import numpy as np

from trainer.instrument import catalogue
from trainer.practice import placement
from trainer.practice.asking import asked, sight
from trainer.practice.deal import deal
from trainer.practice.session import Advanced, Begun, Dealt, Edited, Entered, Turned, start, step
from trainer.practice.worksheet import runs
from trainer.records.values import SessionHeader


def eye(chance, spread=0.4):
    """A person who sees only what `sight` shows and hears only what `asked` asks."""
    zero = {"seen": 0}

    def read(session):
        question, seen = asked(session), sight(session)
        micrometer = session.micrometer
        stands = seen.position_tenths + spread * chance.normal()
        beyond = (stands + 5) % 10 - 5
        match question.asks:
            case "tenths" | "estimate":
                lower = 10 * question.particulars["lower_line"]
                away = (stands - lower + micrometer.turn_tenths / 2) % micrometer.turn_tenths
                tenths = np.clip(away - micrometer.turn_tenths / 2, 0, 10)
                return f"{round(2 * tenths) / 2:g}" if session.plan.halves else str(round(tenths))
            case "vernier" | "self-check":
                assert seen.turned_to_vernier
                return str(round(stands) % 10)
            case "zero-look":
                zero["seen"] = round(stands)
                return f"{zero['seen']:+d}"
            case "zero-offset":
                return micrometer.format_reading(round(stands) - zero["seen"], micrometer.decimals)
            case "set-to" | "set-line":
                target = micrometer.position_of(question.particulars["target"])
                return f"{(target - stands) / 10:+.2f}"
            case "judge":
                return "in" if abs(beyond) <= question.particulars["tolerance_tenths"] else "out"
            case "size-it":
                return f"{round(float(np.clip(beyond, -5, 5))):+d}"
            case "block-error":
                return f"{session.answers[-1].answer_tenths - session.item.extra['block_tenths']:+.0f}"
            case "verdict":
                return runs(session.items, session.answers, micrometer)[-1].recorded
        return micrometer.format_reading(round(float(np.clip(stands, 0, None))), micrometer.decimals)

    return read


def sit(plan, chance, *, spread=0.4, bias=0.0, slip=0.0, threshold=0.0, when="2026-05-01T08:00:00+00:00"):
    """Return a session taken to its end; the thimble of a set-to drill is turned by hand.

    `spread` and `bias` in tenths; `slip` is the share of whole readings half a millimetre (or a turn) off;
    `threshold` how far beyond the tolerance this person still says "in".
    """
    see = eye(chance, spread)
    session = start(plan, deal(plan, catalogue.load(plan.instrument), chance))
    at_s = 0.0
    session = step(session, Begun(at_s))
    while not session.over:
        if session.wants_item:
            session = step(session, Dealt(placement.next_item(session, chance, ()), at_s))
        if session.phase == "feedback":
            session = step(session, Advanced(at_s))
            continue
        if session.over:
            break
        at_s += 5.0
        item = session.item
        if session.turning is not None:
            away = 3.0 if chance.random() < 0.3 else 0.0  # now and then past the mark, and back
            target = item.position_tenths + bias + spread * chance.normal()
            side = np.sign(target - session.turning.position_tenths)
            for stop in (target + side * away, target):
                session = step(session, Turned(float(stop), at_s))
        else:
            session = step(session, Edited(_text(session, see, chance, spread, slip, threshold)))
        session = step(
            session, Entered(at_s, f"{when[:14]}{int(at_s) // 60 % 60:02d}:{int(at_s) % 60:02d}+00:00")
        )
        assert session.complaint is None, session.complaint
    return session


def _text(session, see, chance, spread, slip, threshold):
    item, micrometer = session.item, session.micrometer
    if item.asks == "judge":
        seen = abs(item.extra["offset_tenths"]) + spread * chance.normal()
        return "in" if seen <= item.extra["tolerance_tenths"] + threshold else "out"
    text = see(session)
    if slip and item.asks in ("full-reading", "half-line") and chance.random() < slip:
        position = micrometer.position_of(text.replace(",", "."))
        other = position + micrometer.turn_tenths
        return micrometer.format_reading(
            other if micrometer.holds(other) else position - micrometer.turn_tenths
        )
    return text


def keep(archive, person, session, when="2026-05-01T08:00:00+00:00", px_per_mm=20.0):
    """Keep a session in an archive as the shells do, each item before its answer; return its id."""
    plan = session.plan
    header = SessionHeader(
        instrument=plan.instrument, drill=plan.drill, for_record=plan.for_record, seed=1,
        program_version="0.1.0", drawing_version="1", px_per_mm=px_per_mm, started_at=when,
        viewing={**plan.viewing, "px_per_mm": px_per_mm},
    )  # fmt: skip
    first = [] if plan.serial else [item.to_dict() for item in session.items]
    known = archive.begin_session(person, plan.to_dict(), first, header)
    if plan.serial:
        archive.deal_more(known, [item.to_dict() for item in session.items])
    for answer in session.answers:
        archive.save_answer(known, answer.to_dict())
    archive.end_session(known, "finished", session.answers[-1].at)
    return known
