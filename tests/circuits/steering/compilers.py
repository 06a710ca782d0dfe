"""The system's compilers for tests: absent they skip at a desk, and fail where CI is set."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

STRICT = ("-Wall", "-Wextra", "-Werror", "-pedantic")


def compiler(*names: str) -> str:
    """Return the first of some compilers that is there."""
    for name in names:
        found = shutil.which(name)
        if found:
            return found
    if os.environ.get("CI"):
        pytest.fail(f"none of {', '.join(names)} is here: the tests of the C may not be skipped")
    pytest.skip(f"none of {', '.join(names)} is here")


def built(directory: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run a compiler in a directory and show what it says if it complains."""
    done = subprocess.run(
        command, cwd=directory, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    return done
