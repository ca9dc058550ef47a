"""The notebook-style sample runs from top to bottom and prints what its cells promise."""

import pathlib
import subprocess
import sys

SAMPLES = pathlib.Path(__file__).resolve().parents[1] / "samples"


def test_the_day_at_the_desk(tmp_path):
    ran = subprocess.run(
        [sys.executable, SAMPLES / "office_day.py", tmp_path], capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stderr
    lines = ran.stdout.splitlines()
    assert "EF-1   belt cracked" in lines
    assert any(line.split()[:3] == ["RTU-2", "nameplate.mca_a", "34.0"] for line in lines)
    assert any(line.startswith("not met: RTU-2 disconnect-ampacity") for line in lines)
    assert any(line.startswith("RTU-5") and line.endswith("fields missing") for line in lines)
