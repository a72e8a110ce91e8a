"""Invented readers for the tests of reports and commands: known bias and spread, no real person."""

import numpy as np
import pandas as pd

from trainer.records.archive import Archive
from trainer.records.values import SessionHeader


def answers(
    chance,
    person="Ada Sample",
    *,
    sessions=4,
    each=20,
    bias=0.2,
    sd=0.6,
    slips=0.02,
    instrument="metric",
    drill="full-reading",
    first_day="2026-03-01",
):
    """Return answers of a reader who rounds to whole tenths, with slips of a graduation."""
    rows = []
    for session in range(sessions):
        tenths = np.concatenate([chance.permutation(10) for _ in range(each // 10)])
        truth = chance.integers(5, 2400, each) * 10 + tenths + chance.random(each)
        answer = np.rint(truth + bias + chance.normal(0, sd, each))
        slipped = chance.random(each) < slips
        answer[slipped] += chance.choice([-10, 10], slipped.sum())
        day = np.datetime64(first_day) + session
        rows += [
            {
                "person": person,
                "truth_tenths": truth[i],
                "answer_tenths": answer[i],
                "session": f"{person}-{session + 1}",
                "item": i + 1,
                "at": f"{day}T08:{i:02d}:00+00:00",
                "seconds": 7.5,
                "instrument": instrument,
                "drill": drill,
                "outcome": "answered",
                "typed": f"{answer[i]:.0f}",
            }
            for i in range(each)
        ]
    return pd.DataFrame(rows)


def put_into(
    archive: Archive, frame: pd.DataFrame, *, for_record=True, plan=None, px_per_mm=20.0, viewing=None
):
    """Keep a frame of answers in an archive, with its people and sessions."""
    for person in frame["person"].unique():
        if person not in [p.name for p in archive.people()]:
            archive.add_person(person)
    for _, rows in frame.groupby("session", sort=False):
        first = rows.iloc[0]
        header = SessionHeader(
            instrument=first["instrument"], drill=first["drill"], for_record=for_record, seed=1,
            program_version="0.1.0", drawing_version="1", px_per_mm=px_per_mm, started_at=first["at"],
            viewing=viewing or {},
        )  # fmt: skip
        items = [
            {"number": int(r["item"]), "position_tenths": float(r["truth_tenths"]), "asks": first["drill"]}
            for _, r in rows.iterrows()
        ]
        kept = archive.begin_session(first["person"], plan or {"name": "check"}, items, header)
        for _, r in rows.iterrows():
            archive.save_answer(
                kept,
                {
                    "number": int(r["item"]),
                    "typed": r["typed"],
                    "answer_tenths": float(r["answer_tenths"]),
                    "outcome": r["outcome"],
                    "seconds": float(r["seconds"]),
                    "at": r["at"],
                },
            )
        archive.end_session(kept, "finished", rows.iloc[-1]["at"])
