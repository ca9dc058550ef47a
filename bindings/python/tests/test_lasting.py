"""What was acknowledged stays, what was let go of is gone: death of the process, threads, handles."""

import gc
import os
import subprocess
import sys
import threading
import time

from conftest import ANA
from scupper import ChangeListener, Clock, Device, EquipmentKind, Identity, NoteListener, Segment
from scupper._core import scupper as generated

EDITS = int(os.environ.get("SCUPPER_EDITS", "400"))

TYPES_UNTIL_KILLED = """
import sys
from scupper import Device, Identity
device = Device.open(sys.argv[1], Identity(device_id="phone-2", author="ben"))
survey = device.create_survey("Shed")
print(survey.id(), flush=True)
number = 0
while True:
    number += 1
    survey.set_number("site", "roof.height_ft", number)
    print(number, flush=True)
"""


def test_what_was_acknowledged_survives_a_kill(tmp_path):
    child = subprocess.Popen(
        [sys.executable, "-c", TYPES_UNTIL_KILLED, tmp_path], stdout=subprocess.PIPE, text=True
    )
    survey_id = child.stdout.readline().strip()
    for _ in range(20):
        last = int(child.stdout.readline())
    child.kill()
    last = int(([last] + child.stdout.read().split())[-1])
    assert child.wait() == -9
    child.stdout.close()
    with Device.open(tmp_path, ANA) as device:
        steps = device.survey(survey_id).history("site", "roof.height_ft")
    values = [step.value for step in steps]
    # One more may be on disk that there was no time left to acknowledge.
    assert values in ([*range(1, last + 1)], [*range(1, last + 2)])


def test_what_eight_threads_enter_at_once_is_all_there(device, tmp_path):
    survey = device.create_survey("Shed")
    each, failures = EDITS // 8, []

    def enter(tag):
        try:
            survey.add_unit(tag, EquipmentKind.EXHAUST_FAN)
            for number in range(each):
                survey.set_number(tag, "airflow_cfm", number)
        except Exception as error:  # the thread's failure is the test's
            failures.append(error)

    began = time.monotonic()
    threads = [threading.Thread(target=enter, args=(f"EF-{n}",)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(f"8 threads made {8 * each} edits, {(time.monotonic() - began) * 125 / each:.1f} ms each")
    assert failures == []
    device.shut()
    with Device.open(tmp_path / "store", ANA) as again:
        survey = again.survey(survey.id())
        for n in range(8):
            steps = survey.history(f"EF-{n}", "airflow_cfm")
            assert [step.value for step in steps] == list(range(each))


class Quiet(Clock, NoteListener, ChangeListener):
    def now(self):
        raise NotImplementedError

    def heard(self, event):
        pass

    def changed(self, survey_id):
        pass


def held():
    """Python objects that the library holds on to, and files that are open."""
    gc.collect()
    kinds = ("Clock", "NoteListener", "ChangeListener")
    maps = [getattr(generated, f"_UniffiFfiConverterType{kind}")._handle_map for kind in kinds]
    return [len(m._map) for m in maps], len(os.listdir("/proc/self/fd"))


def test_nothing_is_held_once_it_was_let_go_of(tmp_path):
    before = held()
    for _ in range(20):
        with Device.open(tmp_path, Identity(device_id="p", author="a"), Quiet()) as device:
            device.listen(Quiet())
            note = device.create_survey("Shed").begin_note()
            note.listen(Quiet())
            note.hear(Segment(text="EF two, the belt is cracked"))
            assert held()[0] == [1, 1, 1]
            note.end()
        del device, note
    assert held() == before
