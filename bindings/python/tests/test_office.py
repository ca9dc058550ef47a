"""The whole job against a real server: two devices, dictation, photo, exchange, assessment."""

import json
import queue
import socket
import threading

import pytest
from conftest import ANA, EXEMPLAR, PHOTO, Relay
from scupper import (
    ChangeListener,
    Device,
    Listing,
    Moved,
    Office,
    OfficeListener,
    Outcome,
    PhotoAbout,
    ScupperError,
    Stopper,
    UploadListener,
    enrol,
)


class Seen(ChangeListener, UploadListener):
    def __init__(self):
        self.surveys = []
        self.bytes = {}

    def changed(self, survey_id):
        self.surveys.append(survey_id)

    def sent(self, hash, part, bytes, of):
        assert bytes <= of
        self.bytes[hash, part] = bytes


def test_two_devices_and_the_office_end_level(tmp_path, server, expected):
    ana, anas_office = server.enrol("phone-a", "ana")
    ben, bens_office = server.enrol("phone-b", "ben")
    with Device.open(tmp_path / "a", ana) as one, Device.open(tmp_path / "b", ben) as two:
        plan = (EXEMPLAR / "survey.json").read_text()
        mine = one.join_survey("exemplar")
        mine.enter_plan(plan)
        assert anas_office.exchange(mine).outcome is Outcome.DONE
        theirs = two.join_survey("exemplar")
        brought = bens_office.exchange(theirs)
        assert (brought.outcome, brought.new_changes) == (Outcome.DONE, 1)

        # Apart: one dictates, the other types another value and takes a photo.
        for name in expected["interpretations"]:
            mine.dictate_transcript((EXEMPLAR / name).read_text())
        mine.set_number("EF-1", "nameplate.mca_a", 12.5)
        theirs.set_number("EF-1", "nameplate.mca_a", 11)
        photo = theirs.take_photo(PHOTO, PhotoAbout(about="RTU-2", caption="plate"))

        seen = Seen()
        two.listen(seen)
        assert anas_office.exchange(mine).outcome is Outcome.DONE
        assert bens_office.exchange(theirs).new_changes >= 2
        assert anas_office.exchange(mine).outcome is Outcome.DONE
        assert set(seen.surveys) == {"exemplar"}

        waiting = two.uploads_waiting()
        assert (waiting.files, waiting.bytes) == (2, PHOTO.stat().st_size)
        stopper = Stopper()
        stopper.stop()
        assert bens_office.send_photos(two, stopper=stopper).outcome is Outcome.STOPPED
        sent = bens_office.send_photos(two, seen)
        assert (sent.outcome, sent.files, sent.put_off) == (Outcome.DONE, 2, 0)
        assert sum(seen.bytes.values()) == sent.bytes > PHOTO.stat().st_size
        assert two.uploads_waiting().files == 0

        assert mine.read() == theirs.read()
        (conflict,) = [c for c in mine.conflicts() if c.field == "nameplate.mca_a"]
        assert {(c.value, c.stamp.author) for c in conflict.candidates} == {(12.5, "ana"), (11, "ben")}
        held = mine.entries(Listing.PHOTOS)
        assert [entry["id"] for entry in held] == [photo]

        # The server works out from what came over the wire what the device works out itself.
        of_server = json.loads(anas_office.read("/v1/surveys/exemplar/assessment"))
        assert of_server == mine.assessment()
        verdicts = {(c["rule"], c["ref"]): c["verdict"] for c in of_server["checks"]}
        for check in expected["assessment"]["checks"]:
            if check["ref"] == "RTU-1":
                assert verdicts[check["rule"], check["ref"]] == check["verdict"]
        assert any(f["component"] == "belt" for f in of_server["findings"])


def test_an_office_out_of_reach_is_no_error_and_a_stranger_is_told_to_enrol(tmp_path, server):
    with Device.open(tmp_path / "a", ANA) as device:
        survey = device.create_survey("Shed")
        survey.take_photo(PHOTO, PhotoAbout())
        nowhere = Office.at("http://127.0.0.1:9", "token")
        stranger = Office.at(server.address, "no such token")
        for office, outcome in [(nowhere, Outcome.OUT_OF_REACH), (stranger, Outcome.ENROL_AGAIN)]:
            assert office.exchange(survey).outcome is outcome
            assert office.send_photos(device).outcome is outcome
            with pytest.raises(ScupperError.TryAgain):
                office.read("/v1/surveys")
        assert device.uploads_waiting().files == 2
    with pytest.raises(ScupperError.BadInput):
        enrol(server.address, "no-such-code", "phone-9", "Phone")
    with pytest.raises(ScupperError.TryAgain):
        enrol("http://127.0.0.1:9", "code", "phone-9", "Phone")


class Aside(threading.Thread):
    """A call on a thread of its own, and what it returned."""

    def __init__(self, call):
        super().__init__(daemon=True)
        self.call, self.told = call, None
        self.start()

    def run(self):
        self.told = self.call()

    def result(self):
        """Long before the two minutes after which a silent server would be given up."""
        self.join(30)
        assert not self.is_alive()
        return self.told


class Moves(OfficeListener):
    def __init__(self):
        self.queue = queue.Queue()

    def moved(self, survey_id, what):
        self.queue.put((survey_id, what))
        raise ValueError("a defect of the app")

    def next(self):
        return self.queue.get(timeout=60)


def test_a_stopper_ends_the_wait_for_an_office_that_says_nothing(device):
    survey = device.create_survey("Shed")
    survey.take_photo(PHOTO, PhotoAbout())
    with socket.create_server(("127.0.0.1", 0)) as silent:
        office = Office.at(f"http://127.0.0.1:{silent.getsockname()[1]}", "token")
        for call in (
            lambda stopper: office.exchange(survey, stopper).outcome,
            lambda stopper: office.send_photos(device, stopper=stopper).outcome,
            lambda stopper: office.watch(survey, Moves(), stopper),
        ):
            stopper = Stopper()
            waiting = Aside(lambda: call(stopper))
            line, _ = silent.accept()
            assert line.recv(4) in (b"POST", b"GET ")
            stopper.stop()
            assert waiting.result() is Outcome.STOPPED
            # What is given a stopper that was used does not begin.
            assert call(stopper) is Outcome.STOPPED
            line.close()


def test_a_watch_tells_what_moved_though_the_line_was_cut(tmp_path, server):
    ana, anas_office = server.enrol("phone-a", "ana")
    ben, bens_office = server.enrol("phone-b", "ben")
    with Device.open(tmp_path / "a", ana) as one, Device.open(tmp_path / "b", ben) as two:
        mine, theirs = one.join_survey("shed"), two.join_survey("shed")
        mine.set_text("site", "name", "Shed")
        assert anas_office.exchange(mine).outcome is Outcome.DONE
        relay, moves, stopper = Relay(server), Moves(), Stopper()
        _, far = server.enrol("phone-c", "cleo", relay.address)
        watching = Aside(lambda: far.watch(mine, moves, stopper))
        assert [moves.next(), moves.next()] == [("shed", Moved.SURVEY), ("shed", Moved.OFFICE)]

        def colleague_enters(text):
            theirs.set_text("site", "address", text)
            assert bens_office.exchange(theirs).outcome is Outcome.DONE

        colleague_enters("Pier 9")
        assert moves.next() == ("shed", Moved.SURVEY)
        relay.cut()
        colleague_enters("Pier 10")
        assert moves.queue.empty()
        relay.mend()
        assert moves.next() == ("shed", Moved.SURVEY)
        # A line that is cut and mended without a change is not told of; the next change is.
        relay.cut()
        relay.mend()
        colleague_enters("Pier 11")
        assert moves.next() == ("shed", Moved.SURVEY)
        stopper.stop()
        assert watching.result() is Outcome.STOPPED
        assert moves.queue.empty()
        relay.cut()
        stranger = Office.at(server.address, "no such token")
        assert stranger.watch(mine, moves, Stopper()) is Outcome.ENROL_AGAIN
        with pytest.raises(ScupperError.NotFound):
            bens_office.watch(two.create_survey("Barn"), moves, Stopper())
