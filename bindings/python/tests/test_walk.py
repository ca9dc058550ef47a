"""A walk over the exemplar's roof through the real library: dictation, photo, hazards, exchange.

What must come out is in `fixtures/exemplar/expected.json`, worked out by hand; Rust and Kotlin
read the same file. What core computes is tested in core; here it is the crossing.
"""

import datetime
import json
import pathlib
import subprocess
import sys
import tempfile
import threading
import unittest

from scupper import (
    Basis,
    Clock,
    ClockError,
    Device,
    EquipmentKind,
    HazardKind,
    Identity,
    Part,
    PhotoAbout,
    ScupperError,
    Segment,
)

ROOT = pathlib.Path(__file__).resolve().parents[3]
EXEMPLAR = ROOT / "fixtures" / "exemplar"
EXPECTED = json.loads((EXEMPLAR / "expected.json").read_text())
PHOTO = sorted((ROOT / "fixtures" / "bakery" / "photos").glob("*.jpg"))[0]
ANA = Identity(device_id="phone-1", author="ana")


def code(value):
    """An enum's value as the contracts write it."""
    return value.name.lower()


class Walk(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.device = Device.open(self.folder.name, ANA)
        self.addCleanup(lambda: self.device.shut())

    def exemplar(self):
        survey = self.device.join_survey("exemplar")
        survey.enter_plan((EXEMPLAR / "survey.json").read_text())
        return survey

    def test_the_exemplar_is_assessed_as_worked_out_by_hand(self):
        survey = self.exemplar()
        expected = EXPECTED["assessment"]
        assessment = survey.assessment()
        verdicts = {(c["rule"], c["ref"]): c["verdict"] for c in assessment["checks"]}
        for check in expected["checks"]:
            self.assertEqual(verdicts[check["rule"], check["ref"]], check["verdict"], check)
        hazards = {(code(h.kind), h.about, h.zone) for h in survey.hazards()}
        for hazard in expected["hazards"]:
            self.assertIn((hazard["kind"], hazard["ref"], hazard["zone"]), hazards)
        for hazard in expected["no_hazards"]:
            self.assertNotIn((hazard["kind"], hazard["ref"], hazard["zone"]), hazards)
        missing = {(m.about, m.field) for m in survey.missing()}
        for gap in expected["missing"]:
            self.assertIn((gap["ref"], gap["field"]), missing)
        for finding in expected["findings"]:
            self.assertTrue(
                any(finding.items() <= found.items() for found in assessment["findings"]), finding
            )

    def test_the_transcripts_are_heard_as_worked_out_by_hand(self):
        for name, expected in EXPECTED["interpretations"].items():
            with self.subTest(name):
                survey = self.device.create_survey(name)
                heard = survey.dictate_transcript((EXEMPLAR / name).read_text())
                units = {(m.tag, code(m.kind)) for m in heard.equipment}
                for unit in expected["equipment"]:
                    self.assertIn((unit["ref"], unit["kind"]), units)
                facts = [(f.about, f.field, f.value) for f in heard.facts]
                for fact in expected["facts"]:
                    self.assertIn((fact["ref"], fact["field"], fact["value"]), facts)
                findings = {
                    (f.about, code(f.component), code(f.condition), code(f.certainty))
                    for f in heard.findings
                }
                for finding in expected["findings"]:
                    keys = ("ref", "component", "condition", "certainty")
                    self.assertIn(tuple(finding[key] for key in keys), findings)

    def test_a_dictated_unit_is_in_the_survey_with_its_words(self):
        survey = self.device.create_survey("Workshop")
        text = "Package unit two, MCA 34."
        heard = survey.dictate([Segment(text=text)])
        fact = next(f for f in heard.facts if f.field == "nameplate.mca_a")
        words = text.encode()[fact.evidence.start : fact.evidence.end].decode()
        self.assertIn("34", words)
        read = survey.read()
        self.assertEqual(read["equipment"][0]["tag"], "RTU-2")
        self.assertEqual(read["equipment"][0]["nameplate"]["mca_a"], 34)
        self.assertEqual(read["notes"][0]["author"], "ana")

    def test_a_note_that_was_cut_off_goes_on_after_opening_again(self):
        survey = self.device.create_survey("Workshop")
        note = survey.begin_note()
        note.hear(Segment(text="Package unit two, MCA"))
        self.device.shut()
        with Device.open(self.folder.name, ANA) as device:
            (found,) = device.open_notes()
            self.assertEqual((found.id(), found.survey_id()), (note.id(), survey.id()))
            found.hear(Segment(text="34."))
            heard = found.end()
            facts = [(f.about, f.field, f.value) for f in heard.facts]
            self.assertIn(("RTU-2", "nameplate.mca_a", 34), facts)
            self.assertEqual(device.open_notes(), [])
            with self.assertRaises(ScupperError.NotFound):
                found.hear(Segment(text="and more"))

    def test_an_edge_warns_where_the_technician_stands(self):
        survey = self.exemplar()
        near = survey.hazards("RTU-2")
        edge = next(h for h in near if h.kind == HazardKind.UNPROTECTED_EDGE)
        self.assertLess(edge.distance_ft, 6)
        self.assertFalse(edge.reported)
        self.assertTrue(edge.caution)
        self.assertIn(edge.source.basis, list(Basis))
        far = {(h.kind, h.about) for h in survey.hazards("RTU-1")}
        self.assertNotIn((HazardKind.UNPROTECTED_EDGE, "RTU-2"), far)

    def test_edits_settle_what_was_missing(self):
        survey = self.exemplar()
        gap = ("EF-1", "nameplate.mca_a")
        self.assertIn(gap, {(m.about, m.field) for m in survey.missing()})
        survey.set_number("EF-1", "nameplate.mca_a", 12.5)
        self.assertNotIn(gap, {(m.about, m.field) for m in survey.missing()})
        survey.set_text("EF-1", "nameplate.model", "KD-7")
        survey.set_flag("EF-1", "disconnect.in_sight", True)
        survey.set_json("EF-1", "belts", [{"designation": "A44", "quantity": 1}])
        added = survey.add_unit("EF-9", EquipmentKind.EXHAUST_FAN)
        units = {unit["tag"]: unit for unit in survey.read()["equipment"]}
        self.assertEqual(units["EF-1"]["nameplate"]["mca_a"], 12.5)
        self.assertEqual(units["EF-1"]["nameplate"]["model"], "KD-7")
        self.assertIs(units["EF-1"]["disconnect"]["in_sight"], True)
        self.assertEqual(units["EF-1"]["belts"][0]["designation"], "A44")
        self.assertEqual(units["EF-9"]["id"], added)
        survey.clear("EF-1", "nameplate.model")
        survey.withdraw("EF-9")
        units = {unit["tag"]: unit for unit in survey.read()["equipment"]}
        self.assertIsNone(units["EF-1"]["nameplate"].get("model"))
        self.assertNotIn("EF-9", units)
        steps = survey.history("EF-1", "nameplate.model")
        self.assertEqual([step["value"] for step in steps], ["KD-7", None])

    def test_a_photo_is_queued_smallest_first_and_leaves_the_queue(self):
        survey = self.exemplar()
        about = PhotoAbout(about="RTU-2", caption="plate")
        entry = survey.take_photo(PHOTO, about)
        photo = next(p for p in survey.read()["photos"] if p["id"] == entry)
        self.assertEqual(photo["bytes"], PHOTO.stat().st_size)
        self.assertEqual(photo["ref"], "RTU-2")
        seen = []
        while (upload := self.device.next_upload()) is not None:
            self.assertEqual(upload.path.stat().st_size, upload.length)
            self.assertTrue(upload.create_path.startswith("/v1/"))
            self.assertIn(upload.hash, [header.value for header in upload.headers])
            seen.append(upload.part)
            if upload.part is Part.ORIGINAL:
                self.assertEqual(upload.path.read_bytes(), PHOTO.read_bytes())
            self.device.upload_result(upload.hash, upload.part, True)
        self.assertEqual(seen, [Part.THUMBNAIL, Part.ORIGINAL])

    def test_an_exchange_message_is_short_and_a_bad_answer_changes_nothing(self):
        survey = self.exemplar()
        before = survey.read()
        message = survey.prepare_exchange()
        self.assertIsInstance(message, bytes)
        self.assertTrue(0 < len(message) < 100_000, len(message))
        with self.assertRaises(ScupperError.TryAgain):
            survey.accept_exchange(b"not an answer")
        self.assertEqual(survey.read(), before)

    def test_each_error_says_what_to_do_and_repeats_nobodys_words(self):
        survey = self.exemplar()
        cases = [
            (ScupperError.BadInput, lambda: survey.set_number("RTU-2", "nameplate.mca_a", -1)),
            (ScupperError.BadInput, lambda: survey.set_number("RTU-77", "nameplate.mca_a", 1)),
            (ScupperError.BadInput, lambda: survey.dictate_transcript('{"segments": "Ilse"}')),
            (ScupperError.BadInput, lambda: survey.enter_plan('{"site": {"name": 5}}')),
            (ScupperError.BadInput, lambda: survey.dictate_transcript(r'{"segments": "\"ask Ilse\""}')),
            (ScupperError.NotFound, lambda: self.device.survey("nowhere")),
            (ScupperError.BadPhoto, lambda: survey.take_photo(__file__, PhotoAbout())),
            (ScupperError.BadPhoto, lambda: survey.take_photo("no/such/file.jpg", PhotoAbout())),
            (ScupperError.NotOpen, lambda: Device.open(self.folder.name, ANA)),
        ]
        before = survey.read()
        for kind, call in cases:
            with self.subTest(kind.__name__):
                with self.assertRaises(kind) as caught:
                    call()
                self.assertIsInstance(caught.exception, ScupperError)
                self.assertGreater(len(str(caught.exception)), 10)
                self.assertNotIn("Ilse", str(caught.exception))
        self.assertEqual(survey.read(), before)

    def test_what_was_entered_is_there_after_closing_and_opening(self):
        survey = self.exemplar()
        survey.set_number("EF-1", "nameplate.mca_a", 12.5)
        before = survey.read()
        with self.device as device:
            self.assertEqual([s.id for s in device.surveys()], ["exemplar"])
        with self.assertRaises(ScupperError.NotOpen):
            survey.read()
        with Device.open(self.folder.name, ANA) as again:
            self.assertEqual(again.survey("exemplar").read(), before)

    def test_what_was_acknowledged_survives_the_death_of_the_process(self):
        script = f"""
import os, sys
from scupper import Device, Identity
device = Device.open(sys.argv[1], Identity(device_id="phone-2", author="ben"))
survey = device.create_survey("Shed")
survey.set_number("site", "roof.height_ft", 17)
print(survey.id(), flush=True)
os.kill(os.getpid(), 9)
"""
        with tempfile.TemporaryDirectory() as folder:
            died = subprocess.run(
                [sys.executable, "-c", script, folder], capture_output=True, text=True
            )
            self.assertEqual(died.returncode, -9, died.stderr)
            with Device.open(folder, ANA) as device:
                read = device.survey(died.stdout.strip()).read()
        self.assertEqual(read["site"]["roof"]["height_ft"], 17)

    def test_the_apps_clock_stamps_what_is_entered(self):
        offset = datetime.timezone(datetime.timedelta(hours=-7))
        noon = datetime.datetime(2026, 4, 14, 12, 0, 0, tzinfo=offset)

        class Noon(Clock):
            def now(self):
                return noon

        class Stopped(Clock):
            def now(self):
                raise ClockError.Failed("stopped")

        class Broken(Clock):
            def now(self):
                raise ValueError("a defect of the app")

        for clock, is_noon in [(Noon(), True), (Stopped(), False), (Broken(), False)]:
            with tempfile.TemporaryDirectory() as folder:
                with Device.open(folder, ANA, clock) as device:
                    survey = device.create_survey("Shed")
                    step = survey.history("site", "name")[0]
                    at = datetime.datetime.fromisoformat(step["stamp"]["at"])
                    self.assertEqual(at == noon, is_noon, clock)

    def test_many_threads_may_use_one_survey(self):
        survey = self.exemplar()
        failures = []

        def type_in(tag):
            try:
                for number in range(25):
                    survey.set_number(tag, "airflow_cfm", number)
            except Exception as error:  # the thread's failure is the test's
                failures.append(error)

        threads = [
            threading.Thread(target=type_in, args=(tag,)) for tag in ("RTU-1", "RTU-2", "EF-1") * 2
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        self.assertEqual(failures, [])
        steps = survey.history("EF-1", "airflow_cfm")
        self.assertEqual(steps[-1]["value"], 24)


if __name__ == "__main__":
    unittest.main()
