"""What the tests share: the exemplar, a device, and the office as a real `scupper serve`."""

import json
import os
import pathlib
import socket
import subprocess
import threading

import pytest

from scupper import Device, Identity, Office, enrol

ROOT = pathlib.Path(__file__).resolve().parents[3]
EXEMPLAR = ROOT / "fixtures" / "exemplar"
PHOTO = sorted((ROOT / "fixtures" / "bakery" / "photos").glob("*.jpg"))[0]
ANA = Identity(device_id="phone-1", author="ana")
COMMAND = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "debug" / "scupper"


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

    def code(self, name):
        """A one-time code from the command line."""
        admit = [COMMAND, "admit", "technician", name, "--data", self.data]
        return subprocess.run(admit, check=True, capture_output=True, text=True).stdout.strip()

    def enrol(self, device_id, name, over=None):
        """Enrols a device; its office is reached over a line of its own, if one is given."""
        made = enrol(self.address, self.code(name), device_id, f"Phone of {name}")
        identity = Identity(device_id=device_id, author=made.author)
        return identity, Office.at(over or self.address, made.token)

    def stop(self):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


class Relay:
    """A line to a server that can be cut and mended; its address stays."""

    def __init__(self, server):
        host, port = server.address.removeprefix("http://").split(":")
        self.server, self.port, self.ends = (host, int(port)), 0, []
        self.mend()
        self.address = f"http://127.0.0.1:{self.port}"

    def mend(self):
        self.door = socket.create_server(("127.0.0.1", self.port))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self._let_in, args=(self.door,), daemon=True).start()

    def _let_in(self, door):
        while True:
            try:
                here, _ = door.accept()
            except OSError:
                return
            there = socket.create_connection(self.server)
            self.ends += [here, there]
            for one, other in ((here, there), (there, here)):
                threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, one, other):
        try:
            while said := one.recv(65536):
                other.sendall(said)
        except OSError:
            pass
        close(one, other)

    def cut(self):
        close(self.door, *self.ends)
        self.ends.clear()


def close(*ends):
    for end in ends:
        try:
            end.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass  # It is closed at the other end already.
        end.close()


@pytest.fixture
def server(tmp_path):
    server = Server(tmp_path / "office")
    yield server
    server.stop()
