"""Bench readings and readings from pictures are other evidence, and stay apart."""

import pandas as pd

from trainer.practice.results import without_bench


def test_bench_readings_are_set_apart_from_others_and_stand_alone():
    mixed = pd.DataFrame(
        {"drill": ["full-reading", "bench-check", "bench-check"], "answer_tenths": [1.0, 2.0, 3.0]}
    )
    kept, count = without_bench(mixed)
    assert (list(kept["answer_tenths"]), count) == ([1.0], 2)
    alone = mixed[mixed["drill"] == "bench-check"]
    assert without_bench(alone)[0] is alone
    plain = pd.DataFrame({"answer_tenths": [1.0]})
    assert without_bench(plain)[0] is plain
