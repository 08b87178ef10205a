#!/usr/bin/env python3
"""Workbook out, edited as people edit, and back into the study: by openpyxl, and by LibreOffice's own saving.

usage: update_roundtrip.py PAYSPREAD STUDY NAME   (needs openpyxl; soffice if it is there; NAME is a known input)
"""

import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import openpyxl


def run(*arguments):
    return subprocess.run([str(a) for a in arguments], capture_output=True, text=True)


def edited(book, out, name, value):
    workbook = openpyxl.load_workbook(book)
    sheet = workbook["Inputs"]
    row = next(row for row in sheet.iter_rows(min_row=1) if row[0].value == name)
    before = row[3].value
    row[3].value = value(before)
    workbook.save(out)
    return before


def saved_by_libreoffice(book, folder):
    profile = f"-env:UserInstallation=file://{folder}/profile"
    made = run("soffice", profile, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir",
               folder / "lo", book)
    assert (folder / "lo" / book.name).exists(), made.stderr
    return folder / "lo" / book.name


def main():
    program, study, name = sys.argv[1], Path(sys.argv[2]), sys.argv[3]
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        shutil.copytree(study.parent, folder / "studies")
        own = folder / "studies" / study.name
        text = own.read_text()
        made = run(program, "report", own, "--as", "workbook", "--out", folder / "out")
        assert made.returncode == 0, made.stderr
        book = folder / "out" / "workbook.xlsx"
        ways = {"as made": book}
        if shutil.which("soffice"):
            ways["saved by LibreOffice"] = saved_by_libreoffice(book, folder)
        for way, path in ways.items():
            told = run(program, "update", own, "--from", path)
            assert told.returncode == 0 and told.stdout.startswith("Nothing has changed"), (way, told)
            changed = folder / "changed.xlsx"
            before = edited(path, changed, name, lambda x: x * 1.25)
            if "LibreOffice" in way:
                changed = saved_by_libreoffice(changed, folder)
            told = run(program, "update", own, "--from", changed)
            assert told.returncode == 0, (way, told)
            said = tomllib.loads(own.read_text())["inputs"][name]
            assert before * 1.25 in said.values(), (way, said)
            kept = [line for line in text.splitlines() if line.strip().startswith("#")]
            assert all(line in own.read_text() for line in kept)
            # A formula that no spreadsheet program has worked out has no value to take.
            own.write_text(text)
            edited(path, folder / "formula.xlsx", name, lambda x: f"={x}*2")
            told = run(program, "update", own, "--from", folder / "formula.xlsx")
            assert told.returncode == 1 and "formula whose value is not in the file" in told.stderr, (way, told)
            assert own.read_text() == text
            if "LibreOffice" in way:
                worked_out = saved_by_libreoffice(folder / "formula.xlsx", folder)
                told = run(program, "update", own, "--from", worked_out)
                assert told.returncode == 0, told
                assert before * 2 in tomllib.loads(own.read_text())["inputs"][name].values()
                own.write_text(text)
            print(f"{study.name}, {way}: read back, {name} changed, remarks kept")


main()
