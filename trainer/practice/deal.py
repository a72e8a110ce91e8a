"""Dealing: the items of a sitting, all at once or, where the next hangs on the answers, the first of them."""

import numpy as np

from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item
from trainer.practice.kinds import KINDS
from trainer.practice.plan import Plan


def deal(plan: Plan, micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return the items of a sitting, reproducible from the generator's seed.

    For a plan that is dealt as one goes (`plan.serial`) nothing is dealt yet: the session then asks for
    its items one by one (`Session.wants_item`, `placement.next_item`, event `Dealt`).
    """
    if plan.serial:
        return ()
    dealer = KINDS[plan.drill].deal
    assert dealer is not None  # a plan's drill is one that can be dealt
    return dealer(plan, micrometer, chance)
