"""Reports as PDF: is the file sound, can it be searched, does it have an outline, is every page filled and none cut?

    python3 .ci/pdf_checks.py REPORT.pdf [PAGE.html]

With the page that it was printed from, the outline is compared with the page's headings and every word of them is
looked for. Wants qpdf and poppler's tools (pdftotext, pdftoppm). Prints what is wrong; ends with 1 if anything is.
"""

import html.parser
import json
import re
import subprocess
import sys

# A4, in points, and the margins of the style sheet, rounded inwards.
WIDTH, HEIGHT = 595.28, 841.89
SIDE, FOOT = 45, 50
# Pixels an inch when pages are looked at.
DENSITY = 36


def run(*words: str) -> bytes:
    done = subprocess.run(words, capture_output=True)
    if done.returncode != 0:
        raise SystemExit(f"{' '.join(words)}: {done.stderr.decode(errors='replace').strip() or done.returncode}")
    return done.stdout


class Headings(html.parser.HTMLParser):
    """Texts of h1 to h6."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inside = False

    def handle_starttag(self, tag, attrs) -> None:
        if re.fullmatch(r"h[1-6]", tag):
            self.inside = True
            self.found.append("")

    def handle_endtag(self, tag) -> None:
        if re.fullmatch(r"h[1-6]", tag):
            self.inside = False

    def handle_data(self, data) -> None:
        if self.inside:
            self.found[-1] += data


def words(text: str) -> list[str]:
    return text.split()


def outline(pdf: str) -> list[str]:
    """Titles of the outline, from the first down to the deepest."""
    tree = json.loads(run("qpdf", "--json", "--json-key=outlines", pdf))["outlines"]
    titles: list[str] = []

    def walk(items) -> None:
        for item in items:
            titles.append(item["title"])
            walk(item["kids"])

    walk(tree)
    return titles


def pictures(pdf: str):
    """Pages as (width, height, grey bytes)."""
    data = run("pdftoppm", "-r", str(DENSITY), "-gray", pdf)
    while data:
        head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", data)
        width, height = int(head[1]), int(head[2])
        data = data[head.end() :]
        yield width, height, data[: width * height]
        data = data[width * height :]


def look(number: int, width: int, height: int, grey: bytes) -> list[str]:
    """What is wrong with the looks of a page."""
    faults = []
    scale = DENSITY / 72
    if abs(width / scale - WIDTH) > 3 or abs(height / scale - HEIGHT) > 3:
        faults.append(f"page {number} is no A4")
    side, foot = int(SIDE * scale), int((HEIGHT - FOOT) * scale)
    rows = [grey[y * width : (y + 1) * width] for y in range(height)]
    inked = [y for y in range(foot) if min(rows[y]) < 200]
    if not inked:
        faults.append(f"page {number} is empty")
    if any(min(row[:side]) < 200 or min(row[width - side :]) < 200 for row in rows):
        faults.append(f"page {number} has something in its margins")
    if inked and inked[-1] < 0.15 * foot:
        print(f"page {number}: only {100 * inked[-1] // foot} % of its height used")
    return faults


def main() -> int:
    pdf = sys.argv[1]
    page = sys.argv[2] if len(sys.argv) > 2 else None
    run("qpdf", "--check", pdf)
    faults = []
    text = words(run("pdftotext", pdf, "-").decode())
    titles = outline(pdf)
    if len(text) < 20:
        faults.append("there is no text that can be searched")
    if len(titles) < 2:
        faults.append("there is no outline")
    # The answer is one page; its cautions are the last thing on it.
    if not {"Caution", "Cautions."} <= set(words(run("pdftotext", "-l", "1", pdf, "-").decode())):
        faults.append("the answer, cautions included, does not find room on page one")
    if page:
        headings = Headings()
        with open(page, encoding="utf-8") as file:
            headings.feed(file.read())
        wanted = [" ".join(words(heading)) for heading in headings.found]
        if [" ".join(words(title)) for title in titles] != wanted:
            faults.append(f"the outline is {titles}, the headings are {wanted}")
        known = set(text)
        faults += [f"{word} of a heading is not found" for heading in wanted for word in words(heading) if word not in known]
    looks = list(pictures(pdf))
    for number, (width, height, grey) in enumerate(looks, 1):
        faults += look(number, width, height, grey)
    for fault in faults:
        print(f"{pdf}: {fault}")
    if not faults:
        print(f"{pdf}: {len(looks)} pages, {len(titles)} titles in the outline, {len(text)} words: sound")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
