"""The simulator as a fixture: absent it skips at a desk, and fails where CI is set."""

import os

import pytest

from netlists.errors import SimulatorMissing
from netlists.locate import find_ngspice, ngspice_version
from tests.simulator import Simulator


@pytest.fixture(scope="session")
def simulator() -> Simulator:
    try:
        program = find_ngspice()
        return Simulator(program, ngspice_version(program))
    except SimulatorMissing as error:
        if os.environ.get("CI"):
            pytest.fail(f"the simulator's tests may not be skipped here: {error}")
        pytest.skip(str(error))
