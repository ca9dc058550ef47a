# %% [markdown]
# A day at the desk: an office opens a survey, reads a dictation that a technician sent as text, sees what is
# doubtful, and looks at the assessment. Each `# %%` is a cell for an editor or a notebook; as a program it runs
# from top to bottom: `office_day.py [STORE [SERVER CODE]]`. Names and figures are invented.

# %% A store of one's own. It is closed at the end of the program, or by `device.shut()`.
import collections
import pathlib
import sys
import tempfile

from scupper import (
    Device,
    EquipmentKind,
    Identity,
    Listing,
    Moved,
    Office,
    OfficeListener,
    Segment,
    Stopper,
    code,
    enrol,
)

folder = sys.argv[1] if len(sys.argv) > 1 else tempfile.mkdtemp()
server, invitation = sys.argv[2:4] if len(sys.argv) > 3 else (None, None)

# %% With a server, what is entered here is kept under the name that it gives for the one-time code
enrolled = enrol(server, invitation, "desk-1", "The desk") if server else None
author = enrolled.author if enrolled else "office"
device = Device.open(folder, Identity(device_id="desk-1", author=author))
survey = device.create_survey("Quince Street cannery")

# %% What the technician said, as the recogniser wrote it down
said = [
    "exhaust fan one the belt is cracked",
    "package unit two MCA 34 max fuse 45 disconnect is a thirty amp",
    "the condenser coil is dirty and the panel might be loose",
]
heard = survey.dictate([Segment(text=line) for line in said])
for fact in heard.facts:
    print(f"{fact.about:6} {fact.field:24} {fact.value}")
for finding in heard.findings:
    print(f"{finding.about:6} {code(finding.component)} {code(finding.condition)}")

# %% What the office knows beside it
survey.add_unit("RTU-5", EquipmentKind.PACKAGED_ROOFTOP_UNIT)
survey.set_number("RTU-5", "nameplate.mca_a", 28)

# %% What is still to be fetched, by unit
gaps = collections.Counter(gap.about for gap in survey.missing())
for unit, count in gaps.most_common():
    print(f"{unit:6} {count} fields missing")

# %% The checks that were not met
for check in survey.assessment()["checks"]:
    if check["verdict"] == "fail":
        print(f"not met: {check['ref']} {check['rule']}: {check['because']}")

# %% The units as a table, for pandas or a spreadsheet
rows = [
    {"tag": unit["tag"], "kind": unit["kind"], **unit.get("nameplate", {})}
    for unit in survey.entries(Listing.EQUIPMENT)
]
for row in rows:
    print(row)

# %% With a server: exchange whenever the survey moves there, until a colleague's change has come
class Colleague(OfficeListener):
    def __init__(self, office, stopper):
        self.office, self.stopper = office, stopper

    def moved(self, survey_id, what):
        came = self.office.exchange(survey).new_changes if what is Moved.SURVEY else 0
        if came:
            print("from the office:", came, "new changes, address", survey.read()["site"].get("address"))
            self.stopper.stop()


if enrolled:
    office, stopper = Office.at(server, enrolled.token), Stopper()
    office.exchange(survey)
    print("watching", survey.id(), flush=True)
    office.watch(survey, Colleague(office, stopper), stopper)

# %% Done
device.shut()
print("kept in", pathlib.Path(folder).name)
