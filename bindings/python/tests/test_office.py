"""The whole job against a real server: two devices, dictation, photo, exchange, assessment."""

import json

import pytest
from conftest import ANA, EXEMPLAR, PHOTO
from scupper import (
    ChangeListener,
    Device,
    Listing,
    Office,
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
