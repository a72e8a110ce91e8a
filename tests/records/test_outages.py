"""Stations and server killed in turn lose and double nothing (short form of tests/campaigns/outages.py)."""

import random
import tempfile
from pathlib import Path

import pytest

from tests.campaigns import outages


def test_stations_and_server_killed_in_turn_lose_double_and_reorder_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("PYTHONPATH", str(Path.cwd()))
    # not below pytest's own folder, which a run of the tests beside this one closes to the server's user
    with tempfile.TemporaryDirectory(prefix="tenthwise-", ignore_cleanup_errors=True) as folder:
        found = outages.campaign(Path(folder), 4, random.Random(11), stations=1, longest_s=0.3)
    assert found.kills["server"] == 2
    assert found.kills["station"] >= 2
    assert len(found.confirmed) > 4
    assert found.clean, found.sentence()
