"""What the tests share: the exemplar, a device, and the office as a real `scupper serve`."""

import json
import os
import pathlib
import subprocess

import pytest

from scupper import Device, Identity, Office, enrol

ROOT = pathlib.Path(__file__).resolve().parents[3]
EXEMPLAR = ROOT / "fixtures" / "exemplar"
PHOTO = sorted((ROOT / "fixtures" / "bakery" / "photos").glob("*.jpg"))[0]
ANA = Identity(device_id="phone-1", author="ana")
COMMAND = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "debug" / "scupper"


def code(value):
    """An enum's value as the contracts write it."""
    return value.name.lower()


@pytest.fixture(scope="session")
def expected():
    """What must come of the exemplar, worked out by hand; Rust, Kotlin and Swift read it too."""
    return json.loads((EXEMPLAR / "expected.json").read_text())


@pytest.fixture
def device(tmp_path):
    with Device.open(tmp_path / "store", ANA) as device:
        yield device


@pytest.fixture
def survey(device):
    """The exemplar's survey."""
    survey = device.join_survey("exemplar")
    survey.enter_plan((EXEMPLAR / "survey.json").read_text())
    return survey


class Server:
    """A server of its own process."""

    def __init__(self, data):
        self.data = str(data)
        command = [COMMAND, "serve", "--listen", "127.0.0.1:0", "--data", self.data]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        self.address = self.process.stdout.readline().split("/sign-in/")[0]

    def enrol(self, device_id, name):
        """Enrols a device with a code from the command line."""
        admit = [COMMAND, "admit", "technician", name, "--data", self.data]
        code = subprocess.run(admit, check=True, capture_output=True, text=True).stdout.strip()
        made = enrol(self.address, code, device_id, f"Phone of {name}")
        identity = Identity(device_id=device_id, author=made.author)
        return identity, Office.at(self.address, made.token)

    def stop(self):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


@pytest.fixture
def server(tmp_path):
    server = Server(tmp_path / "office")
    yield server
    server.stop()
