"""The notebook-style sample runs from top to bottom and prints what its cells promise."""

import pathlib
import subprocess
import sys

from scupper import Device, Outcome

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


def test_the_day_at_the_desk_with_an_office_waits_for_a_colleague(tmp_path, server):
    command = [sys.executable, SAMPLES / "office_day.py", tmp_path / "desk"]
    command += [server.address, server.code("cleo")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as day:
        said = next(line for line in day.stdout if line.startswith("watching"))
        ben, bens_office = server.enrol("phone-b", "ben")
        with Device.open(tmp_path / "b", ben) as device:
            theirs = device.join_survey(said.split()[1])
            theirs.set_text("site", "address", "Pier 9")
            assert bens_office.exchange(theirs).outcome is Outcome.DONE
        assert "from the office: 1 new changes, address Pier 9\n" in day.stdout.readlines()
    assert day.returncode == 0
