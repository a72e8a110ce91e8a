"""The mean square error of a person as four parts that add up to it exactly."""

import numpy as np

from trainer.scoring.errors import Floats
from trainer.scoring.interpolation import ROUNDING_VARIANCE

Columns = dict[str, Floats]


def split_columns(n: Floats, columns: Columns) -> Columns:
    """Return constant bias, profile, rounding and random parts, in tenths squared, adding up to the whole.

    bias: squared mean error. profile: squared differences of the ten tenth means, less what noise alone
    gives them. rounding: 1/12 (answers in whole tenths), 1/48 (halves) or 0, but no more than is left.
    random: the rest. NaN where there are fewer than 20 readings.
    """
    whole = columns["mean_square"]
    counts, means = columns["tenth_n"], columns["tenth_mean"]
    bias = columns["bias"] ** 2
    cells = (counts > 0).sum(axis=1)
    away = np.where(counts > 0, np.nan_to_num(means) - columns["bias"][:, None], 0.0)
    between = (counts * away**2).sum(axis=1) / n
    within = columns["tenth_squares"].sum(axis=1)
    noise = (cells - 1) * within / np.maximum(n - cells, 1) / n
    profile = np.maximum(between - noise, 0.0)
    answer_step = np.where(columns["halves"] > 0, 0.25, 1.0) * columns["rounded"]
    rounding = np.minimum(ROUNDING_VARIANCE * answer_step, np.maximum(whole - bias - profile, 0.0))
    few = (n < 20) | (n - cells < 10)
    parts = {"split_bias": bias, "split_profile": profile, "split_rounding": rounding}
    parts["split_random"] = np.maximum(whole - (bias + profile + rounding), 0.0)
    return {name: np.where(few, np.nan, part) for name, part in parts.items()}
