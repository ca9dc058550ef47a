"""A walk over the exemplar's roof through the real library: dictation, photo, hazards, edits.

What must come out is in `fixtures/exemplar/expected.json`, worked out by hand. What core computes
is tested in core; here it is the crossing.
"""

import datetime
import os
import pathlib
import re

import pytest
from conftest import ANA, EXEMPLAR, PHOTO, ROOT
from scupper import (
    Action,
    Basis,
    CallbackError,
    Certainty,
    ChangeListener,
    Clock,
    Component,
    Condition,
    Device,
    EquipmentKind,
    HazardKind,
    Listing,
    NoteEvent,
    NoteListener,
    Part,
    PhotoAbout,
    ScupperError,
    Segment,
    Severity,
    code,
)


def test_the_exemplar_is_assessed_as_worked_out_by_hand(survey, expected):
    expected = expected["assessment"]
    assessment = survey.assessment()
    verdicts = {(c["rule"], c["ref"]): c["verdict"] for c in assessment["checks"]}
    for check in expected["checks"]:
        assert verdicts[check["rule"], check["ref"]] == check["verdict"], check
    hazards = {(code(h.kind), h.about, h.zone) for h in survey.hazards()}
    for hazard in expected["hazards"]:
        assert (hazard["kind"], hazard["ref"], hazard["zone"]) in hazards
    for hazard in expected["no_hazards"]:
        assert (hazard["kind"], hazard["ref"], hazard["zone"]) not in hazards
    missing = {(m.about, m.field) for m in survey.missing()}
    for gap in expected["missing"]:
        assert (gap["ref"], gap["field"]) in missing
    for finding in expected["findings"]:
        assert any(finding.items() <= found.items() for found in assessment["findings"]), finding


@pytest.mark.parametrize("name", ["transcript-plain.json", "transcript-rough.json"])
def test_a_transcript_is_heard_as_worked_out_by_hand(device, expected, name):
    expected = expected["interpretations"][name]
    heard = device.create_survey(name).dictate_transcript((EXEMPLAR / name).read_text())
    units = {(m.tag, code(m.kind)) for m in heard.equipment}
    for unit in expected["equipment"]:
        assert (unit["ref"], unit["kind"]) in units
    facts = [(f.about, f.field, f.value) for f in heard.facts]
    for fact in expected["facts"]:
        assert (fact["ref"], fact["field"], fact["value"]) in facts
    findings = {
        (f.about, code(f.component), code(f.condition), code(f.certainty)) for f in heard.findings
    }
    for finding in expected["findings"]:
        keys = ("ref", "component", "condition", "certainty")
        assert tuple(finding[key] for key in keys) in findings


def test_a_dictated_unit_is_in_the_survey_with_its_words(device):
    survey = device.create_survey("Workshop")
    text = "Package unit two, MCA 34."
    heard = survey.dictate([Segment(text=text)])
    fact = next(f for f in heard.facts if f.field == "nameplate.mca_a")
    assert "34" in text.encode()[fact.evidence.start : fact.evidence.end].decode()
    read = survey.read()
    assert read["equipment"][0]["tag"] == "RTU-2"
    assert read["equipment"][0]["nameplate"]["mca_a"] == 34
    assert read["notes"][0]["author"] == "ana"


class Ear(NoteListener):
    """Keeps what it hears, and calls back while it is told."""

    def __init__(self, survey):
        self.survey, self.events = survey, []

    def heard(self, event):
        self.survey.missing()
        self.events.append(event)
        if isinstance(event, NoteEvent.READ_BACK):
            raise CallbackError.Failed("no loudspeaker")

    def lines(self):
        return [event.line for event in self.events if isinstance(event, NoteEvent.READ_BACK)]


def test_a_hands_free_note_reads_back_asks_and_goes_on_after_the_device_went_down(device, tmp_path):
    survey = device.create_survey("Workshop")
    note, ear = survey.begin_note(), Ear(survey)
    note.listen(ear)
    note.hear(Segment(text="unit two MCA 34 MOCP 45"))
    assert len(ear.lines()) == 1 and ear.lines()[0].startswith("RTU-2, mca 34")
    (question,) = [e for e in ear.events if isinstance(e, NoteEvent.QUESTION)]
    assert (question.about, question.field) == ("RTU-2", "nameplate.mca_a")
    device.shut()
    with Device.open(tmp_path / "store", ANA) as device:
        (found,) = device.open_notes()
        assert (found.id(), found.survey_id()) == (note.id(), survey.id())
        survey = device.survey(survey.id())
        ear = Ear(survey)
        found.listen(ear)
        found.hear(Segment(text="notebook right"))
        assert [(e.about, e.field) for e in ear.events if isinstance(e, NoteEvent.CONFIRMED)] == [
            ("RTU-2", "nameplate.mca_a")
        ]
        found.listen(None)
        so_far = found.hear(Segment(text="the belt is cracked"))
        assert [code(f.component) for f in so_far.findings] == ["belt"]
        assert not any(isinstance(e, NoteEvent.DRAFTED) for e in ear.events)
        found.end()
        confirmed = {d["field"]: d.get("confirmed_by") for d in survey.read()["drafts"]}
        assert confirmed == {"nameplate.mca_a": ["ana"], "nameplate.mocp_a": None}
        assert device.open_notes() == []
        with pytest.raises(ScupperError.NotFound):
            found.hear(Segment(text="and more"))


def test_a_listener_is_told_of_each_change_once_and_may_call_back(device):
    class Seen(ChangeListener):
        def __init__(self):
            self.names = []

        def changed(self, survey_id):
            self.names.append(device.survey(survey_id).read()["site"].get("name"))

    seen = Seen()
    device.listen(seen)
    survey = device.create_survey("Shed")
    survey.set_text("site", "name", "Barn")
    survey.hazards()
    with pytest.raises(ScupperError.BadInput):
        survey.set_number("EF-7", "airflow_cfm", 1)
    assert seen.names == ["Shed", "Barn"]
    device.listen(None)
    survey.set_text("site", "name", "Mill")
    assert seen.names == ["Shed", "Barn"]


def test_lists_come_in_pages(device, survey):
    for name in ("Shed", "Mill"):
        device.create_survey(name)
    every = device.surveys()
    assert device.surveys(most=1) == every[:1]
    assert device.surveys(after=every[0].id) == every[1:]
    assert {entry.summary.name for entry in every} == {"Exemplar workshop", "Shed", "Mill"}
    assert every[0].summary.changed_by == "ana"
    units = [unit["id"] for unit in survey.entries(Listing.EQUIPMENT)]
    assert len(units) == 3
    page = survey.entries(Listing.EQUIPMENT, after=units[0], most=1)
    assert [unit["id"] for unit in page] == units[1:2]
    assert survey.missing(skip=1, most=2) == survey.missing()[1:3]
    assert survey.hazards(skip=1) == survey.hazards()[1:]


def test_an_edge_warns_where_the_technician_stands(survey):
    near = survey.hazards("RTU-2")
    edge = next(h for h in near if h.kind is HazardKind.UNPROTECTED_EDGE)
    assert edge.distance_ft < 6
    assert not edge.reported
    assert edge.caution
    assert edge.source.basis in list(Basis)
    far = {(h.kind, h.about) for h in survey.hazards("RTU-1")}
    assert (HazardKind.UNPROTECTED_EDGE, "RTU-2") not in far
    (warning, *_) = survey.arrive_at_unit("RTU-2")
    assert warning.line and warning.hazard in near
    assert survey.arrive_at_unit("RTU-2") == []


def test_edits_settle_what_was_missing(survey):
    gap = ("EF-1", "nameplate.mca_a")
    assert gap in {(m.about, m.field) for m in survey.missing()}
    survey.set_number("EF-1", "nameplate.mca_a", 12.5)
    assert gap not in {(m.about, m.field) for m in survey.missing()}
    survey.set_text("EF-1", "nameplate.model", "KD-7")
    survey.set_flag("EF-1", "disconnect.in_sight", True)
    survey.set_json("EF-1", "belts", [{"designation": "A44", "quantity": 1}])
    added = survey.add_unit("EF-9", EquipmentKind.EXHAUST_FAN)
    units = {unit["tag"]: unit for unit in survey.read()["equipment"]}
    assert units["EF-1"]["nameplate"]["mca_a"] == 12.5
    assert units["EF-1"]["nameplate"]["model"] == "KD-7"
    assert units["EF-1"]["disconnect"]["in_sight"] is True
    assert units["EF-1"]["belts"][0]["designation"] == "A44"
    assert units["EF-9"]["id"] == added
    survey.clear("EF-1", "nameplate.model")
    survey.withdraw("EF-9")
    units = {unit["tag"]: unit for unit in survey.read()["equipment"]}
    assert units["EF-1"]["nameplate"].get("model") is None
    assert "EF-9" not in units
    assert [s.value for s in survey.history("EF-1", "nameplate.model")] == ["KD-7", None]
    twice = [survey.add_unit("EF-5", EquipmentKind.EXHAUST_FAN) for _ in range(2)]
    (offer,) = survey.same_unit_offers()
    assert ([offer.keep, offer.other], offer.tags) == (twice, ["EF-5", "EF-5"])
    survey.join_units(offer.keep, offer.other)
    assert survey.same_unit_offers() == []


def test_a_photo_is_queued_smallest_first_and_leaves_the_queue(device, survey):
    entry = survey.take_photo(PHOTO, PhotoAbout(about="RTU-2", caption="plate"))
    photo = next(p for p in survey.read()["photos"] if p["id"] == entry)
    assert photo["bytes"] == PHOTO.stat().st_size
    assert photo["ref"] == "RTU-2"
    seen = []
    while (upload := device.next_upload()) is not None:
        assert upload.path.stat().st_size == upload.length
        assert upload.create_path.startswith("/v1/")
        assert upload.hash in [header.value for header in upload.headers]
        seen.append(upload.part)
        if upload.part is Part.ORIGINAL:
            assert upload.path.read_bytes() == PHOTO.read_bytes()
        device.upload_result(upload.hash, upload.part, True)
    assert seen == [Part.THUMBNAIL, Part.ORIGINAL]


def test_each_error_says_what_to_do_and_repeats_nobodys_words(device, survey, tmp_path):
    cases = [
        (ScupperError.BadInput, lambda: survey.set_number("RTU-2", "nameplate.mca_a", -1)),
        (ScupperError.BadInput, lambda: survey.set_number("RTU-77", "nameplate.mca_a", 1)),
        (ScupperError.BadInput, lambda: survey.dictate_transcript('{"segments": "Ilse"}')),
        (ScupperError.BadInput, lambda: survey.enter_plan('{"site": {"name": 5}}')),
        (ScupperError.BadInput, lambda: survey.dictate_transcript(r'{"segments": "\"ask Ilse\""}')),
        (ScupperError.NotFound, lambda: device.survey("nowhere")),
        (ScupperError.BadPhoto, lambda: survey.take_photo(pathlib.Path(__file__), PhotoAbout())),
        (ScupperError.BadPhoto, lambda: survey.take_photo(pathlib.Path("no/such/file.jpg"), PhotoAbout())),
        (ScupperError.NotOpen, lambda: Device.open(tmp_path / "store", ANA)),
        (ScupperError.TryAgain, lambda: survey.accept_exchange(b"not an answer")),
    ]
    before = survey.read()
    for kind, call in cases:
        with pytest.raises(kind) as caught:
            call()
        assert isinstance(caught.value, ScupperError)
        assert len(str(caught.value)) > 10
        assert "Ilse" not in str(caught.value)
    assert survey.read() == before


def test_a_full_disk_asks_for_room_and_then_takes_the_photo(device, survey, tmp_path):
    with Device.open(tmp_path / "other", ANA) as other:
        there = other.create_survey("Shed")
        there.take_photo(PHOTO, PhotoAbout())
        (entry,) = there.entries(Listing.PHOTOS)
    # The kernel's own full device stands in for the file that a photo is written to first.
    incoming = tmp_path / "store" / "incoming" / f"new-{entry['hash']}"
    incoming.symlink_to("/dev/full")
    with pytest.raises(ScupperError.NoSpace, match="free some space"):
        survey.take_photo(PHOTO, PhotoAbout())
    assert survey.entries(Listing.PHOTOS) == []
    survey.take_photo(PHOTO, PhotoAbout())
    assert len(survey.entries(Listing.PHOTOS)) == 1


def overwrite(file, at, bytes):
    with open(file, "r+b") as database:
        database.seek(at)
        database.write(bytes)


def test_a_store_of_a_newer_program_is_read_and_asks_for_the_update(device, survey, tmp_path):
    before = survey.read()
    device.shut()
    # Where SQLite keeps the number of the schema.
    overwrite(tmp_path / "store" / "scupper.sqlite", 60, (999).to_bytes(4, "big"))
    with Device.open(tmp_path / "store", ANA) as newer:
        survey = newer.survey("exemplar")
        with pytest.raises(ScupperError.UpdateNeeded, match="999"):
            survey.set_number("EF-1", "nameplate.mca_a", 12.5)
        assert survey.read() == before


def test_a_rotten_store_is_told_and_left_alone(device, survey, tmp_path):
    device.shut()
    database = tmp_path / "store" / "scupper.sqlite"
    overwrite(database, 4096, b"\x55" * 100)
    rotten = database.read_bytes()
    with pytest.raises(ScupperError.Damaged, match="restore a backup"):
        Device.open(tmp_path / "store", ANA)
    assert database.read_bytes() == rotten


def test_what_was_entered_is_there_after_closing_and_opening(device, survey, tmp_path):
    survey.set_number("EF-1", "nameplate.mca_a", 12.5)
    before = survey.read()
    device.shut()
    with pytest.raises(ScupperError.NotOpen):
        survey.read()
    with Device.open(tmp_path / "store", ANA) as again:
        assert again.survey("exemplar").read() == before


def test_the_next_visit_begins_from_the_register(device, survey):
    survey.set_number("EF-1", "nameplate.mca_a", 12.5)
    survey.dictate([Segment(text="EF one, the belt is cracked")])
    visit = device.next_visit("exemplar")
    read = visit.read()
    assert (read["parent"], read["survey_id"]) == ("exemplar", visit.id())
    (fan,) = [unit for unit in read["equipment"] if unit["tag"] == "EF-1"]
    assert fan["nameplate"]["mca_a"] == 12.5
    assert not read.get("findings") and survey.read()["findings"]
    with pytest.raises(ScupperError.NotFound):
        device.next_visit("nowhere")


def test_a_keyed_store_opens_with_its_key_only(tmp_path):
    """With SCUPPER_SEALED=1 the library can encrypt; otherwise it says that it cannot."""
    key, other = bytes(range(32)), bytes(32)
    with pytest.raises(ScupperError.BadInput):
        Device.open_keyed(tmp_path / "store", b"short", ANA)
    if os.environ.get("SCUPPER_SEALED") != "1":
        with pytest.raises(ScupperError.NotOpen, match="without encryption"):
            Device.open_keyed(tmp_path / "store", key, ANA)
        with Device.open(tmp_path / "store", ANA) as device:
            assert device.surveys() == []
        return
    with Device.open_keyed(tmp_path / "store", key, ANA) as device:
        survey = device.create_survey("Quince Street cannery").id()
    for wrong in (
        lambda: Device.open_keyed(tmp_path / "store", other, ANA),
        lambda: Device.open(tmp_path / "store", ANA),
    ):
        with pytest.raises(ScupperError.NotOpen):
            wrong()
    with Device.open_keyed(tmp_path / "store", key, ANA) as device:
        assert device.survey(survey).read()["site"]["name"] == "Quince Street cannery"
    for file in (tmp_path / "store").rglob("*"):
        assert file.is_dir() or b"cannery" not in file.read_bytes(), file


def test_the_apps_clock_stamps_what_is_entered(tmp_path):
    offset = datetime.timezone(datetime.timedelta(hours=-7))
    noon = datetime.datetime(2026, 4, 14, 12, 0, 0, tzinfo=offset)

    class Noon(Clock):
        def now(self):
            return noon

    class Stopped(Clock):
        def now(self):
            raise CallbackError.Failed("stopped")

    class Broken(Clock):
        def now(self):
            raise ValueError("a defect of the app")

    for clock, is_noon in [(Noon(), True), (Stopped(), False), (Broken(), False)]:
        with Device.open(tmp_path / type(clock).__name__, ANA, clock) as device:
            survey = device.create_survey("Shed")
            step = survey.history("site", "name")[0]
            assert (step.stamp.at == noon) is is_noon


def test_events_are_told_apart_by_type(device):
    """As `match` reads them."""
    kinds = [NoteEvent.READ_BACK, NoteEvent.QUESTION, NoteEvent.DRAFTED, NoteEvent.DONE]
    note = device.create_survey("Shed").begin_note()
    ear = Ear(device.survey(note.survey_id()))
    note.listen(ear)
    note.hear(Segment(text="EF two, the belt is cracked"))
    note.hear(Segment(text="notebook done"))
    assert {type(event) for event in ear.events} <= set(kinds)
    assert isinstance(ear.events[-1], NoteEvent.DONE)


def test_codes_are_written_as_core_writes_them():
    source = (ROOT / "core" / "src" / "survey" / "codes.rs").read_text()
    for kind in (Action, Certainty, Component, Condition, EquipmentKind, HazardKind, Severity):
        (listed,) = re.findall(rf"^    {kind.__name__} {{(.*?)^    }}", source, re.M | re.S)
        assert sorted(code(value) for value in kind) == sorted(re.findall(r'= "(\w+)"', listed))
