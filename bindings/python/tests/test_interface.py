"""The exported interface is what `bindings/interface.txt` says, so that no change goes unnoticed.

After a wanted change, `SCUPPER_ACCEPT=1 bindings/python/run-tests` writes it anew; `docs/bindings.md`
says what that does to the version.
"""

import inspect
import os
import pathlib
import typing

import interface
import scupper

ROOT = pathlib.Path(__file__).resolve().parents[3]
WRITTEN_DOWN = ROOT / "bindings" / "interface.txt"
GENERATED = pathlib.Path(scupper.__file__).parent / "_core"


def test_the_interface_is_the_one_written_down():
    found = interface.lines(GENERATED)
    if os.environ.get("SCUPPER_ACCEPT") == "1":
        WRITTEN_DOWN.write_text("\n".join(found) + "\n")
    written = WRITTEN_DOWN.read_text().splitlines()
    assert {"gone": [line for line in written if line not in found]} == {"gone": []}
    assert {"new": [line for line in found if line not in written]} == {"new": []}


def test_errors_are_few_enough_to_handle_each():
    kinds = [line for line in interface.lines(GENERATED) if line.startswith("ScupperError ! ")]
    assert 0 < len(kinds) <= 8


def test_the_package_names_and_types_all_there_is():
    """An editor and a type checker see every class, and the types of every call."""
    package = pathlib.Path(scupper.__file__).parent
    assert (package / "py.typed").exists()
    assert "site-packages" in package.parts, "the tests run against the installed wheel"
    lines = [line for line in interface.lines(GENERATED) if " as " not in line]
    named = {line.split(" ")[0].split(".")[0].split("(")[0] for line in lines}
    assert named <= set(scupper.__all__)
    for name in scupper.__all__:
        thing = getattr(scupper, name)
        for call, made in inspect.getmembers(thing, inspect.isfunction):
            if not call.startswith("_"):
                assert "return" in typing.get_type_hints(made), f"{name}.{call}"
