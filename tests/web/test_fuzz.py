"""Made-up requests, some malformed, against the whole daemon: a few hundred here, thousands by `make fuzz`."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

FUZZ = Path(__file__).parent / "fuzz.py"


@pytest.mark.timeout(1800)
def test_no_answer_is_another_than_the_description_says(evening, tmp_path) -> None:
    """Every address, the same requests each time: none ends in a server error or in an answer of another shape."""
    shutil.copytree(evening, tmp_path / "puffin")
    asked = subprocess.run(
        [sys.executable, FUZZ, "--data", tmp_path / "puffin", "--each", "4", "--phases", "examples,fuzzing"],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert asked.returncode == 0, asked.stdout + asked.stderr
    generated = re.search(r"(\d+) generated, (\d+) passed", asked.stdout)
    assert generated is not None, asked.stdout
    assert int(generated[1]) >= 300
