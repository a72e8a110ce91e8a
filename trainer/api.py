"""The public names, gathered for those who use Tenthwise from their own Python.

Everything is imported when it is first asked for, so that `from trainer.api import load_instrument` does not
load a database library. `tests/test_api.py` pins the list; what is not in it may change at any time.
"""

import importlib
from typing import Any

# public name: (module, name there)
NAMES: dict[str, tuple[str, str]] = {
    "Refusal": ("trainer.instrument.refusal", "Refusal"),
    "Micrometer": ("trainer.instrument.micrometer", "Micrometer"),
    "Faults": ("trainer.instrument.micrometer", "Faults"),
    "State": ("trainer.instrument.micrometer", "State"),
    "instrument_names": ("trainer.instrument.catalogue", "names"),
    "load_instrument": ("trainer.instrument.catalogue", "load"),
    "showing": ("trainer.instrument.scale", "showing"),
    "position_from": ("trainer.instrument.scale", "position_from"),
    "read_typed": ("trainer.instrument.typed", "reading"),
    "Viewing": ("trainer.drawing.viewing", "Viewing"),
    "Painter": ("trainer.drawing.painter", "Painter"),
    "geometry": ("trainer.drawing.geometry", "geometry"),
    "scene": ("trainer.drawing.scene", "scene"),
    "write_png": ("trainer.drawing.png", "write"),
    "write_pdf": ("trainer.drawing.paper", "write_pdf"),
    "Plan": ("trainer.practice.plan", "Plan"),
    "load_plan": ("trainer.practice.plan", "load"),
    "find_plan": ("trainer.practice.plans", "find"),
    "deal": ("trainer.practice.deal", "deal"),
    "start_session": ("trainer.practice.session", "start"),
    "step_session": ("trainer.practice.session", "step"),
    "score_people": ("trainer.scoring.table", "score_people"),
    "score_readings": ("trainer.scoring.table", "score_readings"),
    "PersonScore": ("trainer.scoring.person", "PersonScore"),
    "Interval": ("trainer.scoring.intervals", "Interval"),
    "compare_people": ("trainer.scoring.compare", "compare_people"),
    "fit_judgement": ("trainer.scoring.judgement", "fit"),
    "Archive": ("trainer.records.archive", "Archive"),
    "read_answers": ("trainer.records.answers_csv", "read"),
}

__all__ = list(NAMES)


def __getattr__(name: str) -> Any:
    """Return a public name, loading its module when it is first asked for."""
    if name not in NAMES:
        raise AttributeError(f"trainer.api has no {name!r}; it has {', '.join(NAMES)}")
    module, attribute = NAMES[name]
    return getattr(importlib.import_module(module), attribute)
