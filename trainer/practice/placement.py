"""Placement as one goes: the next item of a sitting whose items hang on the answers before."""

from collections.abc import Sequence

import numpy as np

from trainer.practice import threshold
from trainer.practice.calibration import next_of_run
from trainer.practice.items import Item
from trainer.practice.overlap import judged, offset_item
from trainer.practice.readings import reading_item
from trainer.practice.session import Session
from trainer.practice.strata import graduations
from trainer.practice.weakness import TENTHS, Pair, by_cell, next_position, next_tenth, weakness

EASY_EVERY = 10  # one judgement in ten is an easy one, which tells lapses from a wide curve


def next_item(session: Session, chance: np.random.Generator, past: Sequence[Pair] = ()) -> Item:
    """Return the item to deal next; the caller keeps it and then sends `Dealt`.

    `past` is what the person did in earlier sittings of this drill on this instrument: truths and
    answers in tenths, or for `judge` offsets in tenths and 1.0 for "out", 0.0 for "in". Only for a session
    that wants an item; a check never does.
    """
    assert session.wants_item  # the caller asks first
    if session.plan.drill == "calibration":
        return next_of_run(session.plan, session.items, session.answers, session.micrometer, chance)
    if session.plan.drill == "judge":
        return _next_judgement(session, chance, past)
    if session.plan.drill == "size-it":
        return _next_size(session, chance, past)
    known = weakness([*past, *_pairs(session)], session.micrometer)
    position = next_position(known, session.micrometer, chance)
    while session.items and _same_line(position, session):
        position = next_position(known, session.micrometer, chance)
    return reading_item(session.plan.drill, len(session.items) + 1, position, session.micrometer)


def _same_line(position_tenths: float, session: Session) -> bool:
    """Return whether the thimble would stand between the same two lines as in the item before."""
    before, turn = session.items[-1].position_tenths, session.micrometer.turn_tenths
    return position_tenths % turn // 10 == before % turn // 10


def _pairs(session: Session) -> list[Pair]:
    """Return truth and answer of every position answered in this sitting."""
    return [
        (item.position_tenths, answer.answer_tenths)
        for item, answer in zip(session.items, session.answers, strict=False)
        if answer.answer_tenths is not None
    ]


def judgements(session: Session) -> list[Pair]:
    """Return offset and judgement (1.0 for "out") of every judgement of a sitting."""
    return [
        (float(item.extra["offset_tenths"]), float(judged(answer.typed) == "out"))
        for item, answer in zip(session.items, session.answers, strict=False)
        if item.asks == "judge" and answer.outcome == "answered"
    ]


def _next_judgement(session: Session, chance: np.random.Generator, past: Sequence[Pair]) -> Item:
    plan = session.plan
    known = threshold.grid(float(plan.setting("tolerance_tenths")), float(plan.setting("range_tenths")))
    if len(session.items) % EASY_EVERY == EASY_EVERY - 1:
        place = int(chance.choice([0, threshold.OFFSETS - 1]))
    else:
        trials = [*past, *judgements(session)]
        weight = threshold.weights(known, [offset for offset, _ in trials], [out for _, out in trials])
        place = int(np.argmin(threshold.entropy_left(known, weight)))
    size = abs(known.offsets_tenths[place] + known.offsets_tenths[1] * (chance.random() - 0.5))
    return _offset(session, min(float(size), float(known.offsets_tenths[-1])) * _sign(chance), chance)


def _next_size(session: Session, chance: np.random.Generator, past: Sequence[Pair]) -> Item:
    """Deal an offset from the step of the range, of ten, at which the person errs most."""
    largest = float(session.plan.setting("range_tenths"))
    pairs = np.asarray([*past, *_pairs(session)], dtype=np.float64).reshape(-1, 2)
    offset = (pairs[:, 0] + 5) % 10 - 5
    step = np.clip((offset + largest) / (2 * largest) * TENTHS, 0, TENTHS - 1).astype(np.int64)
    cell = next_tenth(by_cell(step, pairs[:, 1] - pairs[:, 0]), chance)
    share = (cell + float(chance.random())) / TENTHS
    return _offset(session, largest * (2 * share - 1), chance)


def _sign(chance: np.random.Generator) -> float:
    return 1.0 if chance.random() < 0.5 else -1.0


def _offset(session: Session, offset_tenths: float, chance: np.random.Generator) -> Item:
    micrometer = session.micrometer
    line = int(graduations(1, micrometer, chance, margin=1)[0])
    return offset_item(session.plan, len(session.items) + 1, line, offset_tenths)
