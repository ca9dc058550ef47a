"""Rooftop surveys from Python: the same core that the phones run.

>>> from scupper import Device, Identity, Segment
>>> with Device.open("store", Identity(device_id="desk-1", author="office")) as device:
...     survey = device.create_survey("Quince Street cannery")
...     heard = survey.dictate([Segment(text="EF two, the belt is cracked")])

A `Device` is a store that one process at a time has open; use it in a `with` block, so that it
is closed at the end. Errors are the classes inside `ScupperError`, one for each thing a program
can do about it.
"""

from __future__ import annotations

from .scupper import Clock, ClockError, Device, Note, ScupperError, Survey
from .scupper_core import (
    Action,
    Basis,
    Certainty,
    Component,
    Condition,
    EquipmentKind,
    Evidence,
    Exchanged,
    Fact,
    HazardEntry,
    HazardKind,
    Header,
    Identity,
    Interpretation,
    Mention,
    Missing,
    Part,
    PhotoAbout,
    Segment,
    Severity,
    Source,
    SpokenFinding,
    SpokenFollowUp,
    SpokenHazard,
    SurveyEntry,
    Upload,
)

__all__ = [name for name in dir() if name[0].isupper()]


def _enter(self: Device) -> Device:
    return self


def _leave(self: Device, *_reason: object) -> None:
    self.shut()


Device.__enter__ = _enter  # type: ignore[attr-defined]
Device.__exit__ = _leave  # type: ignore[attr-defined]
