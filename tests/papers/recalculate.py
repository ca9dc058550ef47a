#!/usr/bin/env python3
"""Recalculates a quote worksheet in LibreOffice and holds every step of the price against quote.json.

    recalculate.py DIR [ROW=VALUE ...] [--against OTHER_QUOTE.json]

DIR is what `scupper papers` wrote. openpyxl drops the stored results, so LibreOffice has to work
out every formula. ROW=VALUE changes a figure on the sheet "Rates" (by the start of its label)
before that; --against names the quote.json made with the same change in the rate book.
Needs openpyxl and soffice. Exit code 1 when anything differs.
"""
import json
import pathlib
import subprocess
import sys
import tempfile

import openpyxl

STEPS = {
    "Labour": "labour_cents",
    "Mark-up on labour": "labour_markup_cents",
    "Materials": "materials_cents",
    "Mark-up on materials": "materials_markup_cents",
    "Vehicle, gear and hire": "hire_cents",
    "Mark-up on vehicle, gear and hire": "hire_markup_cents",
    "Contingency": "contingency_cents",
    "Tax": "tax_cents",
    "Price": "price_cents",
}
ENDS = ("low", "likely", "high")


def recalculated(sheet, changes):
    book = openpyxl.load_workbook(sheet)
    for label, value in changes.items():
        rows = [r for r in book["Rates"].iter_rows() if str(r[0].value).startswith(label)]
        assert len(rows) == 1, f"{label!r} names {len(rows)} rows of the sheet Rates"
        rows[0][1].value = value
    with tempfile.TemporaryDirectory() as folder:
        bare = pathlib.Path(folder) / "bare.xlsx"
        book.save(bare)
        out = pathlib.Path(folder) / "out"
        subprocess.run(
            ["soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless",
             "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(out), str(bare)],
            check=True, capture_output=True)
        price = openpyxl.load_workbook(out / "bare.xlsx", data_only=True)["Price"]
        rows = {row[0].value: row for row in price.iter_rows() if row[0].value}
        return {label: [[cell.value for cell in row[1:4]], [cell.value for cell in row[5:8]]] for label, row in rows.items()}


def main(args):
    folder = pathlib.Path(args.pop(0))
    against = folder / "quote.json"
    if "--against" in args:
        at = args.index("--against")
        against = pathlib.Path(args[at + 1])
        del args[at:at + 2]
    changes = {}
    for arg in args:
        label, value = arg.split("=", 1)
        try:
            changes[label] = float(value)
        except ValueError:
            changes[label] = value
    quote = json.loads(against.read_text())
    got = recalculated(folder / "quote-worksheet.xlsx", changes)
    wanted = {}
    for row, step in STEPS.items():
        cents = [quote["build_up"][end][step] for end in ENDS]
        wanted[row] = [[amount / 100 for amount in cents], cents]
    hours = [quote["labour_hours_per_year"][end] for end in ENDS]
    wanted["Hours, and minutes of all people"] = [hours, [quote["labour_minutes_per_year"][end] for end in ENDS]]
    wrong = [row for row in wanted if got.get(row) != wanted[row]]
    for row in wrong:
        print(f"{row}: the spreadsheet says {got.get(row)}, the quote {wanted[row]}")
    print(f"{len(wanted) - len(wrong)} of {len(wanted)} rows equal")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
