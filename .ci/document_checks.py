#!/usr/bin/env python3
"""Opens a word-processor document as its readers do.

    document_checks.py DOCX [PDF]

Headings of every level in order, a caption and columns of equal number in each table, an alternative text for each
picture; of the PDF that an office program made of it, more than three pages and none empty. Needs python-docx, and
pdftotext for the PDF.
"""

import subprocess
import sys

import docx


def faults_of_document(path):
    document = docx.Document(path)
    levels = [int(p.style.name.split()[-1]) for p in document.paragraphs if p.style.name.startswith("Heading")]
    if len(levels) < 10 or levels[0] != 1:
        yield f"headings: {levels[:5]}"
    for before, after in zip(levels, levels[1:]):
        if after > before + 1:
            yield f"a heading of level {after} follows one of level {before}"
    if len(document.tables) < 5:
        yield f"{len(document.tables)} tables"
    captions = [p.text for p in document.paragraphs if p.style.name == "Caption"]
    if not captions or not all(text.strip() for text in captions):
        yield "captions are missing or empty"
    pictures = [node for node in document.element.iter() if node.tag.endswith("}docPr")]
    if len(pictures) < 5:
        yield f"{len(pictures)} pictures"
    for picture in pictures:
        if not (picture.get("descr") or "").strip():
            yield f"picture {picture.get('id')} has no alternative text"


def faults_of_pages(path):
    told = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout
    pages = told.split("\f")[:-1]
    if len(pages) <= 3:
        yield f"{len(pages)} pages"
    for number, page in enumerate(pages, 1):
        if len(page.split()) < 12:
            yield f"page {number} is all but empty: {page.split()}"


def main():
    found = list(faults_of_document(sys.argv[1]))
    for path in sys.argv[2:]:
        found += faults_of_pages(path)
    for fault in found:
        print(f"{sys.argv[1]}: {fault}")
    print(f"{sys.argv[1]}: {'sound' if not found else 'faults'}")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
