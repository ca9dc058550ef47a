"""The exported interface is what `bindings/interface.txt` says, so that no change goes unnoticed.

After a wanted change, `SCUPPER_ACCEPT=1 bindings/python/run-tests` writes it anew; `docs/bindings.md`
says what that does to the version.
"""

import os
import pathlib
import unittest

import interface
import scupper

WRITTEN_DOWN = pathlib.Path(__file__).resolve().parents[2] / "interface.txt"


class Interface(unittest.TestCase):
    def test_the_interface_is_the_one_written_down(self):
        found = interface.lines(pathlib.Path(scupper.__file__).parent)
        if os.environ.get("SCUPPER_ACCEPT") == "1":
            WRITTEN_DOWN.write_text("\n".join(found) + "\n")
        written = WRITTEN_DOWN.read_text().splitlines()
        self.assertEqual(
            {"gone": [l for l in written if l not in found], "new": [l for l in found if l not in written]},
            {"gone": [], "new": []},
        )

    def test_errors_are_few_enough_to_handle_each(self):
        kinds = [line for line in interface.lines(pathlib.Path(scupper.__file__).parent)
                 if line.startswith("ScupperError ! ")]
        self.assertTrue(0 < len(kinds) <= 8, kinds)
