"""Every test of the window runs without a screen; pygame's display and font are ready."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # the player stands beside the tests


@pytest.fixture(autouse=True, scope="session")
def _pygame() -> Iterator[None]:
    import pygame

    pygame.display.init()
    pygame.font.init()
    yield
    pygame.quit()
