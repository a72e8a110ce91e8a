"""Ten thousand answers out and in again: every number to the last bit."""

import numpy as np
import pandas as pd

from trainer.commands.main import main
from trainer.records.archive import Archive

ROWS = 10_000


def test_ten_thousand_answers_come_back_to_the_same_bits(tmp_path):
    chance = np.random.default_rng(20261125)
    truth = chance.uniform(0, 25_000, ROWS)
    frame = pd.DataFrame(
        {
            "person": [("Ana", '=B"o', "王, 小明")[n // 100 % 3] for n in range(ROWS)],
            "truth_tenths": truth,
            "answer_tenths": truth + chance.normal(0, 1, ROWS),
            "session": [f"S{n // 100}" for n in range(ROWS)],
            "item": [n % 100 + 1 for n in range(ROWS)],
            "seconds": chance.gamma(3, 2, ROWS),
            "instrument": "metric",
            "drill": "full-reading",
        }
    )
    frame.to_csv(tmp_path / "made.csv", index=False)
    first, second, out = tmp_path / "a.tenthwise", tmp_path / "b.tenthwise", tmp_path / "out.csv"
    assert main(["import", str(tmp_path / "made.csv"), "--archive", str(first)]) == 0
    assert main(["export", "--out", str(out), "--archive", str(first)]) == 0
    assert main(["import", str(out), "--archive", str(second)]) == 0
    with Archive.open(first) as one, Archive.open(second) as two:
        kept, again = one.answers(), two.answers()
    pd.testing.assert_frame_equal(kept, again, check_exact=True)
    back = again.set_index(["session", "item"]).loc[list(zip(frame["session"], frame["item"], strict=True))]
    for name in ("truth_tenths", "answer_tenths", "seconds"):
        np.testing.assert_array_equal(back[name].to_numpy(), frame[name].to_numpy())
    assert back["person"].tolist() == frame["person"].tolist()
