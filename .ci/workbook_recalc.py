#!/usr/bin/env python3
"""Recalculates workbooks in LibreOffice and compares every base-case cell with the tool's own value.

    workbook_recalc.py PAYSPREAD STUDY...

For each study: the workbook is made; its cached values are the tool's. LibreOffice, told to recalculate whatever it
opens, gives its own. Then one base value is changed in the workbook, whose cached values are dropped, and in the
study: both must move alike, which proves that something is recalculated at all. Needs openpyxl and soffice.
"""

import json
import math
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import openpyxl

WITHIN = 1e-9
# Cash that cancels leaves rounding behind: relative to the largest value of its row.
SHEETS = ("Workings", "Years", "Months", "Months by year", "Cash", "Results")
ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


def profile(folder):
    user = folder / "profile" / "user"
    user.mkdir(parents=True, exist_ok=True)
    (user / "registrymodifications.xcu").write_text(ALWAYS)
    return (folder / "profile").as_uri()


def recalculated(book, folder):
    out = folder / "recalculated"
    out.mkdir(exist_ok=True)
    command = ["soffice", f"-env:UserInstallation={profile(folder)}", "--headless", "--convert-to", "xlsx"]
    subprocess.run([*command, "--outdir", str(out), str(book)], check=True, capture_output=True, timeout=600)
    return out / book.name


def make(tool, study, book):
    subprocess.run([tool, "debug", "workbook", str(study), str(book)], check=True, capture_output=True)


def values(book):
    sheets = openpyxl.load_workbook(book, data_only=True)
    return {name: sheets[name] for name in SHEETS if name in sheets.sheetnames}


def formulas(book):
    sheets = openpyxl.load_workbook(book)
    for name in SHEETS:
        if name in sheets.sheetnames:
            for row in sheets[name].iter_rows():
                for cell in row:
                    if isinstance(cell.value, str) and cell.value.startswith("="):
                        yield name, cell.coordinate, cell.value


def is_error(value):
    return value is None or (isinstance(value, str) and value.startswith("#"))


def deviation(a, b, size):
    """Relative to the value; where it nearly cancels, absolute against the size of its row."""
    if is_error(a) and is_error(b):
        return 0.0
    if isinstance(a, bool) or isinstance(b, bool) or isinstance(a, str) or isinstance(b, str):
        return 0.0 if a == b or (isinstance(a, (bool, int)) and isinstance(b, (bool, int)) and a == b) else math.inf
    if is_error(a) or is_error(b):
        return math.inf
    if a == b:
        return 0.0
    relative = abs(a - b) / max(abs(a), abs(b))
    return min(relative, abs(a - b) / size) if abs(a) < 1e-6 * size else relative


def compare(one, other, wanted):
    worst, where, count = 0.0, "", 0
    sizes = {}
    for sheet, coordinate, formula in wanted:
        row = (sheet, re.sub("[A-Z]", "", coordinate))
        if row not in sizes:
            numbers = [c.value for c in one[sheet][int(row[1])] if isinstance(c.value, (int, float))]
            sizes[row] = max((abs(x) for x in numbers), default=0.0)
        a, b = one[sheet][coordinate].value, other[sheet][coordinate].value
        off = deviation(a, b, sizes[row])
        count += 1
        if off > worst or (off == math.inf and where == ""):
            worst, where = off, f"{sheet}!{coordinate} {formula[:300]}: {a} against {b}"
    return worst, where, count


def constants(book, wanted):
    """What stands in the place of formulas: a simulation, which no spreadsheet repeats."""
    live = {(sheet, coordinate) for sheet, coordinate, _ in wanted}
    for name, sheet in values(book).items():
        if name != "Results":
            for row in sheet.iter_rows():
                for cell in row:
                    if isinstance(cell.value, (int, float)) and (name, cell.coordinate) not in live:
                        yield name, cell.coordinate, cell.value


def moved(study_text, book):
    """A study and a workbook with one base value changed alike: the first known number that the formulas reach."""
    sheets = openpyxl.load_workbook(book)
    inputs = sheets["Inputs"]
    for row in range(5, inputs.max_row + 1):
        name, base, kind = (inputs.cell(row, col).value for col in (1, 4, 5))
        if not isinstance(base, (int, float)) or isinstance(base, bool) or kind != "value" or "." in name:
            continue
        old = re.search(rf"(\[inputs\.{name}\][^\[]*?\nvalue\s*=\s*)([-\d._e]+)", study_text)
        if not old:
            continue
        new = base * 1.01 if base else 0.01
        text = study_text[: old.start(2)] + repr(new) + study_text[old.end(2) :]
        inputs.cell(row, 4).value = new
        yield name, text, sheets
        inputs.cell(row, 4).value = base


def check(tool, study, folder):
    book = folder / f"{study.stem}.xlsx"
    make(tool, study, book)
    wanted = list(formulas(book))
    again = recalculated(book, folder)
    worst, where, count = compare(values(book), values(again), wanted)
    report = {"study": study.name, "cells": count, "largest deviation": worst, "at": where}
    text = study.read_text()
    for name, changed, sheets in moved(text, book):
        other = study.with_name(f".{study.stem}-moved.toml")
        edited, own = folder / f"{study.stem}-edited.xlsx", folder / f"{study.stem}-own.xlsx"
        try:
            other.write_text(changed)
            try:
                make(tool, other, own)
            except subprocess.CalledProcessError:
                continue
        finally:
            other.unlink(missing_ok=True)
        if list(constants(book, wanted)) != list(constants(own, wanted)):
            continue  # It goes into the simulation.
        sheets.save(edited)
        off, at, _ = compare(values(own), values(recalculated(edited, folder)), wanted)
        before, _, _ = compare(values(book), values(own), wanted)
        if before < 1e-6:
            continue
        report |= {"moved": name, "moved by": before, "deviation when moved": off, "moved at": at}
        break
    return report


def main():
    tool, studies = os.path.abspath(sys.argv[1]), [Path(p).resolve() for p in sys.argv[2:]]
    bad = 0
    for study in studies:
        with tempfile.TemporaryDirectory() as folder:
            try:
                report = check(tool, study, Path(folder))
            except subprocess.CalledProcessError as error:
                report = {"study": study.name, "failed": error.stderr.decode()[-400:], "largest deviation": math.inf}
        worst = max(report["largest deviation"], report.get("deviation when moved", 0.0))
        bad += worst > WITHIN
        print(("FAIL " if worst > WITHIN else "fine ") + json.dumps(report, ensure_ascii=False), flush=True)
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
