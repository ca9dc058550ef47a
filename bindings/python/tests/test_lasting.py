"""What was acknowledged stays, what was let go of is gone: death of the process, threads, handles."""

import ctypes
import gc
import os
import platform
import subprocess
import sys
import threading
import time

import pytest
from conftest import ANA, PHOTO
from scupper import (
    ChangeListener,
    Clock,
    Device,
    EquipmentKind,
    Identity,
    NoteListener,
    Office,
    OfficeListener,
    Outcome,
    PhotoAbout,
    Segment,
    Stopper,
    UploadListener,
)
from scupper._core import scupper as generated

EDITS = int(os.environ.get("SCUPPER_EDITS", "10000"))

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


class Quiet(Clock, NoteListener, ChangeListener, UploadListener, OfficeListener):
    def now(self):
        raise NotImplementedError

    def heard(self, event):
        pass

    def changed(self, survey_id):
        pass

    def sent(self, hash, part, bytes, of):
        pass

    def moved(self, survey_id, what):
        pass


def held():
    """Python objects that the library holds on to, and files that are open."""
    gc.collect()
    kinds = ("Clock", "NoteListener", "ChangeListener", "UploadListener", "OfficeListener")
    maps = [getattr(generated, f"_UniffiFfiConverterType{kind}")._handle_map for kind in kinds]
    return [len(m._map) for m in maps], len(os.listdir("/proc/self/fd"))


def test_nothing_is_held_once_it_was_let_go_of(tmp_path):
    before = held()
    for _ in range(20):
        with Device.open(tmp_path, Identity(device_id="p", author="a"), Quiet()) as device:
            device.listen(Quiet())
            survey = device.create_survey("Shed")
            note = survey.begin_note()
            note.listen(Quiet())
            note.hear(Segment(text="EF two, the belt is cracked"))
            assert held()[0] == [1, 1, 1, 0, 0]
            note.end()
            survey.take_photo(PHOTO, PhotoAbout())
            office, stopper = Office.at("http://127.0.0.1:9", "token"), Stopper()
            assert office.send_photos(device, Quiet(), stopper).outcome is Outcome.OUT_OF_REACH
            stopper.stop()
            assert office.watch(survey, Quiet(), stopper) is Outcome.STOPPED
        del device, note, survey, office, stopper
    assert held() == before


class MallInfo(ctypes.Structure):
    """`struct mallinfo2` of malloc.h."""

    _names = "arena ordblks smblks hblks hblkhd usmblks fsmblks uordblks fordblks keepcost"
    _fields_ = [(name, ctypes.c_size_t) for name in _names.split()]


def left_of(make, times=2000):
    """Bytes of C and Rust memory in use for each of so many objects that were made and let go of."""
    mallinfo2 = ctypes.CDLL(None).mallinfo2
    mallinfo2.restype = MallInfo
    for _ in range(times // 4):
        make()
    gc.collect()
    before = mallinfo2().uordblks
    for _ in range(times):
        make()
    gc.collect()
    return (mallinfo2().uordblks - before) / times


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="it asks glibc what is in use")
def test_the_librarys_own_objects_go_with_the_apps(device):
    """What is left of an object in the library is seen by the memory that it takes."""
    survey = device.create_survey("Shed")
    note = survey.begin_note()
    makers = {
        "Survey": lambda: device.survey(survey.id()),
        "Note": lambda: device.open_notes()[0],
        "Office": lambda: Office.at("http://127.0.0.1:9", "token"),
        "Stopper": Stopper,
    }
    for name, make in makers.items():
        # One more claim on each that is never given back: then all of them must show.
        kept, freed = left_of(lambda: make()._uniffi_clone_handle()), left_of(make)
        print(f"{name}: {freed:.1f} bytes are left of each, {kept:.1f} if it is not let go of")
        assert kept > 64 and freed < 4, name
    note.end()
