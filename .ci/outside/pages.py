"""Every page of the committed reports, drawn by two PDF programs and held against pictures in the repository.

poppler and MuPDF draw each page; poppler's is compared with the reference in samples/pages, and the two with each
other. What a screen reader gets (`pdfinfo -struct-text`) is compared with a reference text. A planted change must be
found, or the check itself fails.
python pages.py REPORTS_FOLDER SAMPLES_PAGES_FOLDER CONTACT_SHEET.png [--bless]

REPORTS_FOLDER is what `testkit`'s program `reports` writes.
"""

import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy
import pymupdf
from common import Tally
from PIL import Image, ImageDraw, ImageFilter
from verdicts import run

# Resolution of the pictures, in dots an inch: enough to see a moved line, small enough to keep them all.
DPI = 50
# A pixel differs when it is this much darker or lighter, of 255.
STEP = 32
# Share of pixels that may differ from the reference: another version of poppler rounds edges otherwise.
FROM_REFERENCE = 0.002
# Share of pixels by which two programs may differ after a blur over one pixel: each has its own way to smooth letters.
BETWEEN_PROGRAMS = 0.01
# Grey steps of the references.
GREYS = 16


def by_poppler(path):
    """The pages of a report by poppler, as grey pictures."""
    with tempfile.TemporaryDirectory() as scratch:
        run("pdftoppm", "-r", DPI, "-gray", path, Path(scratch) / "page")
        return [Image.open(page).convert("L").copy() for page in sorted(Path(scratch).glob("page*.pgm"))]


def by_mupdf(path):
    """The pages of a report by MuPDF, as grey pictures."""
    with pymupdf.open(path) as document:
        drawn = [page.get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY, alpha=False) for page in document]
        return [Image.frombytes("L", (page.width, page.height), page.samples) for page in drawn]


def told(path):
    """What a screen reader gets, line by line."""
    out = run("pdfinfo", "-struct-text", path)[1]
    return "\n".join(line.rstrip() for line in out.splitlines()) + "\n"


def differing(first, second):
    """Share of pixels that differ by more than STEP; sizes may differ by a pixel."""
    if any(abs(a - b) > 1 for a, b in zip(first.size, second.size, strict=True)):
        return 1.0
    size = tuple(min(sides) for sides in zip(first.size, second.size, strict=True))
    pixels = [numpy.asarray(picture.crop((0, 0, *size)), dtype=numpy.int16) for picture in (first, second)]
    return float((abs(pixels[0] - pixels[1]) > STEP).mean())


def blurred(picture):
    return picture.filter(ImageFilter.BoxBlur(1))


def few_greys(picture):
    """The picture in few grey steps, as it is kept."""
    return picture.point(lambda value: round(value * (GREYS - 1) / 255) * 255 // (GREYS - 1))


def keep(picture, path):
    """Writes a reference, four bits a pixel."""
    indexed = picture.point(lambda value: round(value * (GREYS - 1) / 255)).convert("P")
    indexed.putpalette([level * 255 // (GREYS - 1) for level in range(GREYS) for _ in range(3)])
    indexed.save(path, optimize=True, bits=4)


def kept(path):
    return Image.open(path).convert("L") if path.exists() else None


def line_moved(picture):
    """The picture with one line of text two pixels lower: the strip with most ink of the middle third."""
    pixels = numpy.asarray(picture).copy()
    height = pixels.shape[0]
    ink = (255 - pixels.astype(numpy.int32)).sum(axis=1)
    rows = range(height // 4, height * 3 // 4)
    at = max(rows, key=lambda row: ink[row : row + 6].sum())
    pixels[at : at + 8] = numpy.roll(pixels[at : at + 8], 2, axis=0)
    return Image.fromarray(pixels)


def word_lost(text):
    """The text without its longest line."""
    lines = text.splitlines()
    lines.remove(max(lines, key=len))
    return "\n".join(lines) + "\n"


def contact_sheet(pictures, path):
    """All pages on one sheet, small, each under its name."""
    width, height, across = 210, 300, 8
    down = -(-len(pictures) // across)
    sheet = Image.new("L", (across * (width + 10), down * (height + 24)), 200)
    pen = ImageDraw.Draw(sheet)
    for index, (name, picture) in enumerate(pictures):
        left, top = index % across * (width + 10) + 5, index // across * (height + 24) + 18
        small = picture.copy()
        small.thumbnail((width, height), Image.Resampling.LANCZOS)
        sheet.paste(small, (left, top))
        pen.text((left, top - 14), name[-34:], fill=0)
    path.parent.mkdir(parents=True, exist_ok=True)
    sheet.save(path, optimize=True)


def drawn(path):
    return path.stem, by_poppler(path), by_mupdf(path), told(path)


def main():
    words = [word for word in sys.argv[1:] if word != "--bless"]
    bless = "--bless" in sys.argv
    reports, references, contact = (Path(word) for word in words)
    tally = Tally("pages", "pymupdf", "pillow", "numpy")
    print("pages: " + subprocess.run(["pdftoppm", "-v"], capture_output=True, text=True).stderr.splitlines()[0])
    files = sorted(reports.glob("*.pdf"))
    tally.check(files, f"{reports}: no report")
    if bless:
        references.mkdir(parents=True, exist_ok=True)
        for old in [*references.glob("*.png"), *references.glob("*.txt")]:
            old.unlink()
    wanted, pictures, worst, apart = set(), [], 0.0, 0.0
    with ThreadPoolExecutor(2) as pool:
        for name, pages, others, text in pool.map(drawn, files):
            tally.check(len(pages) == len(others) > 0, f"{name}: {len(pages)} and {len(others)} pages")
            for number, (page, other) in enumerate(zip(pages, others, strict=False), 1):
                file = references / f"{name}-{number}.png"
                wanted.add(file.name)
                pictures.append((f"{name} {number}", page))
                if bless:
                    keep(page, file)
                reference = kept(file)
                if tally.check(reference is not None, f"{file.name} is missing; --bless writes it"):
                    share = differing(few_greys(page), reference)
                    worst = max(worst, share)
                    tally.check(share <= FROM_REFERENCE, f"{file.name}: {share:.2%} of the pixels differ from the reference")
                    # The check must be able to fail: a line two pixels lower is found.
                    moved = differing(few_greys(line_moved(page)), reference)
                    tally.check(moved > FROM_REFERENCE, f"{file.name}: a moved line is not found ({moved:.3%})")
                share = differing(blurred(page), blurred(other))
                apart = max(apart, share)
                tally.check(share <= BETWEEN_PROGRAMS, f"{name}, page {number}: two programs differ in {share:.2%} of the pixels")
            file = references / f"{name}.txt"
            wanted.add(file.name)
            if bless:
                file.write_text(text, encoding="utf-8")
            reference = file.read_text(encoding="utf-8") if file.exists() else ""
            if not tally.check(text == reference, f"{file.name}: what a screen reader gets differs"):
                out = reports / file.name
                out.write_text(text, encoding="utf-8")
                print("\n".join(run("diff", file, out)[1].splitlines()[:12]))
            tally.check(word_lost(text) != reference, f"{file.name}: a lost line is not found")
    found = {path.name for path in references.iterdir() if path.suffix in (".png", ".txt")} if references.exists() else set()
    tally.check(found == wanted, f"references without a page: {sorted(found - wanted)[:5]}")
    size = sum(path.stat().st_size for path in references.iterdir()) if references.exists() else 0
    tally.check(size < 3_500_000, f"references take {size} bytes")
    contact_sheet(pictures, contact)
    print(f"pages: {len(pictures)} pages of {len(files)} reports, references {size} bytes, at most {worst:.3%} from the reference, programs at most {apart:.2%} apart; contact sheet {contact}")
    tally.close()


main()
