"""A killed station loses nothing that it had confirmed (short form of tests/campaigns/kill_campaign.py)."""

import importlib.util
import random
import sys
from pathlib import Path
from typing import Any

SCRIPT = Path(__file__).parents[1] / "campaigns" / "kill_campaign.py"


def test_killed_stations_lose_and_double_nothing(place: Any) -> None:
    spec = importlib.util.spec_from_file_location("kill_campaign", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    found = module.campaign(str(place), 6, random.Random(7), longest_s=0.1)
    assert len(found.confirmed) > 20
    assert (found.lost, found.wrong, found.findings) == ([], 0, [])
