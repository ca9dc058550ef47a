"""Rooftop surveys from Python: the same core that the phones run.

>>> from scupper import Device, Identity, Segment
>>> with Device.open("store", Identity(device_id="desk-1", author="office")) as device:
...     survey = device.create_survey("Quince Street cannery")
...     heard = survey.dictate([Segment(text="EF two, the belt is cracked")])

A `Device` is a store that one process at a time has open; use it in a `with` block, so that it
is closed at the end. Errors are the classes inside `ScupperError`, one for each thing a program
can do about it. An `Office` is the server, for programs that exchange by themselves.
"""

from __future__ import annotations

import enum
import os
import pathlib
from types import TracebackType
from typing import Optional, Type, Union

from ._core.scupper import (
    CallbackError,
    ChangeListener,
    Clock,
    Enrolled,
    Levelled,
    Moved,
    Note,
    NoteListener,
    Office,
    OfficeListener,
    Outcome,
    ScupperError,
    SentPhotos,
    Stopper,
    Survey,
    UploadListener,
    enrol,
)
from ._core.scupper import Device as _Device
from ._core.scupper_core import (
    Action,
    Basis,
    Candidate,
    Certainty,
    Component,
    Condition,
    Conflict,
    EquipmentKind,
    Evidence,
    Exchanged,
    Fact,
    HazardEntry,
    HazardKind,
    Header,
    HistoryStep,
    Identity,
    Interpretation,
    Listing,
    Means,
    Mention,
    Missing,
    NoteEvent,
    Part,
    PhotoAbout,
    RoofWarning,
    SameUnitOffer,
    Segment,
    Severity,
    Source,
    SpokenFinding,
    SpokenFollowUp,
    SpokenHazard,
    Stamp,
    Summary,
    SurveyEntry,
    Upload,
    Waiting,
)


def code(value: enum.Enum) -> str:
    """A value of a code list as JSON has it: `belt` for `Component.BELT`."""
    return value.name.lower()


class Device(_Device):
    """A store on this device, open for one person; closed at the end of a `with` block."""

    @classmethod
    def open(
        cls,
        folder: Union[str, os.PathLike[str]],
        identity: Identity,
        clock: Optional[Clock] = None,
    ) -> Device:
        """Opens the store in a folder, which is made if it is not there."""
        made = super().open(pathlib.Path(folder), identity, clock)
        return cls._uniffi_make_instance(made._uniffi_clone_handle())

    @classmethod
    def open_keyed(
        cls,
        folder: Union[str, os.PathLike[str]],
        key: bytes,
        identity: Identity,
        clock: Optional[Clock] = None,
    ) -> Device:
        """Opens a store that is encrypted under a key of 32 random bytes, or makes one."""
        made = super().open_keyed(pathlib.Path(folder), key, identity, clock)
        return cls._uniffi_make_instance(made._uniffi_clone_handle())

    def __enter__(self) -> Device:
        return self

    def __exit__(
        self,
        _kind: Optional[Type[BaseException]],
        _error: Optional[BaseException],
        _trace: Optional[TracebackType],
    ) -> None:
        self.shut()


__all__ = [
    "Action",
    "Basis",
    "CallbackError",
    "Candidate",
    "Certainty",
    "ChangeListener",
    "Clock",
    "Component",
    "Condition",
    "Conflict",
    "Device",
    "Enrolled",
    "EquipmentKind",
    "Evidence",
    "Exchanged",
    "Fact",
    "HazardEntry",
    "HazardKind",
    "Header",
    "HistoryStep",
    "Identity",
    "Interpretation",
    "Levelled",
    "Listing",
    "Means",
    "Mention",
    "Missing",
    "Moved",
    "Note",
    "NoteEvent",
    "NoteListener",
    "Office",
    "OfficeListener",
    "Outcome",
    "Part",
    "PhotoAbout",
    "RoofWarning",
    "SameUnitOffer",
    "ScupperError",
    "Segment",
    "SentPhotos",
    "Severity",
    "Source",
    "SpokenFinding",
    "SpokenFollowUp",
    "SpokenHazard",
    "Stamp",
    "Stopper",
    "Summary",
    "Survey",
    "SurveyEntry",
    "Upload",
    "UploadListener",
    "Waiting",
    "code",
    "enrol",
]
