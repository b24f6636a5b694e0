"""Hypothesis profiles: small and the same examples every time by default, `--hypothesis-profile=thorough` for a long search.

And the kits that several files of tests judge, frozen once.
"""

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from fitcheck.inputs import Inputs, read_job
from tests.chosen_kits import DEMO, HAY, PLOUGH, RING, WINCH, made

# No deadline and no complaint about slowness: a busy machine must not fail a test.
CALM = (HealthCheck.too_slow,)
settings.register_profile("small", max_examples=40, derandomize=True, deadline=None, database=None, suppress_health_check=CALM)
settings.register_profile("thorough", max_examples=2000, deadline=None, suppress_health_check=CALM)
settings.load_profile("small")


@pytest.fixture(scope="session")
def inputs() -> Inputs:
    """The demo's job with its catalog."""
    return read_job(DEMO / "job.toml")


@pytest.fixture(scope="session")
def room(inputs: Inputs, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A catalog of the parts of four kits in one file, written anew, and the kits frozen: a place for tests that only read."""
    return made(tmp_path_factory.mktemp("room"), inputs, HAY, RING, WINCH, PLOUGH)


@pytest.fixture
def own(room: Path, tmp_path: Path) -> Path:
    """The same, to be changed."""
    return Path(shutil.copytree(room, tmp_path / "own"))
