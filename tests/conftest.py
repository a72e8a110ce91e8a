"""Settings every test shares: no screen, a fixed seed unless asked, one place for shipped files."""

import os

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")  # before any import of pygame
os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
os.environ.setdefault("MPLBACKEND", "agg")

import numpy as np
import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--seed", type=int, default=20260101, help="seed of every simulated reader")


def pytest_report_header(config: pytest.Config) -> str:
    return f"seed of simulated readers: {config.getoption('--seed')}"


@pytest.fixture
def chance(request: pytest.FixtureRequest) -> np.random.Generator:
    """Return the random generator of simulated readers; `--seed` changes it."""
    return np.random.default_rng(request.config.getoption("--seed"))
