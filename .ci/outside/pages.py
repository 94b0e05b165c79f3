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
from functools import partial
from multiprocessing import Pool
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
# Share of pixels that may differ from the reference: another version of poppler rounds some edges otherwise.
FROM_REFERENCE = 0.0005
# Share of pixels by which two programs may differ after a blur over three pixels: each smooths letters in its own way, and
# poppler draws hairlines a pixel wide. At most 0.51 % was seen.
BETWEEN_PROGRAMS = 0.008
BLUR = 3
# Longest report, in pages, whose words a screen reader gets are looked at: poppler takes a second a page and more.
READ = 7
# What to do about a reference.
ANEW = "--bless writes it anew, once looked at"
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
    return picture.filter(ImageFilter.BoxBlur(BLUR))


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
    """The picture with one strip, about a line of text, two pixels lower: the one of which most is seen."""
    pixels = numpy.asarray(picture).astype(numpy.int16)
    seen = (abs(numpy.roll(pixels, 2, axis=0) - pixels) > STEP).sum(axis=1)
    strip = 10
    at = int(numpy.convolve(seen[strip:-strip], numpy.ones(strip), mode="valid").argmax()) + strip
    pixels[at : at + strip] = numpy.roll(pixels[at : at + strip], 2, axis=0)
    return Image.fromarray(pixels.astype(numpy.uint8))


def strip_lost(picture):
    """The picture without its inkiest strip of about three lines."""
    pixels = numpy.asarray(picture).copy()
    ink = (255 - pixels.astype(numpy.int32)).sum(axis=1)
    at = int(numpy.convolve(ink, numpy.ones(30), mode="valid").argmax())
    pixels[at : at + 30] = 255
    return Image.fromarray(pixels)


THUMBNAIL = (210, 300)


def contact_sheet(pictures, path):
    """All pages on one sheet, small, each under its name."""
    (width, height), across = THUMBNAIL, 16
    down = -(-len(pictures) // across)
    sheet = Image.new("L", (across * (width + 10), down * (height + 24)), 200)
    pen = ImageDraw.Draw(sheet)
    for index, (name, small) in enumerate(pictures):
        left, top = index % across * (width + 10) + 5, index // across * (height + 24) + 18
        sheet.paste(small, (left, top))
        pen.text((left, top - 14), name[-34:], fill=0)
    path.parent.mkdir(parents=True, exist_ok=True)
    sheet.save(path, optimize=True)


class Look:
    """What one report showed: checks, names of its references, small pictures, the greatest differences."""

    def __init__(self):
        self.checks, self.wanted, self.pictures, self.worst, self.apart = [], set(), [], 0.0, 0.0

    def check(self, good, what):
        self.checks.append((bool(good), what))
        return bool(good)

    def page(self, name, page, other, file, bless):
        """One page: beside its reference, and as two programs draw it."""
        small = page.copy()
        small.thumbnail(THUMBNAIL, Image.Resampling.BILINEAR)
        self.pictures.append((name, small))
        self.wanted.add(file.name)
        if bless:
            keep(page, file)
        reference = kept(file)
        if self.check(reference is not None, f"{file.name} is missing; {ANEW}"):
            share = differing(few_greys(page), reference)
            self.worst = max(self.worst, share)
            self.check(share <= FROM_REFERENCE, f"{file.name}: {share:.3%} of the pixels differ from the reference, {FROM_REFERENCE:.3%} may; {ANEW}")
            # The check must be able to fail: a line two pixels lower is found.
            moved = differing(few_greys(line_moved(page)), reference)
            self.check(moved > FROM_REFERENCE, f"{file.name}: a moved line is not found ({moved:.3%})")
        share = differing(blurred(page), blurred(other))
        self.apart = max(self.apart, share)
        self.check(share <= BETWEEN_PROGRAMS, f"{name}: two programs differ in {share:.2%} of the pixels, {BETWEEN_PROGRAMS:.2%} may")

    def words(self, path, file, bless):
        """What a screen reader gets, beside its reference."""
        text = told(path)
        self.wanted.add(file.name)
        if bless:
            file.write_text(text, encoding="utf-8")
        reference = file.read_text(encoding="utf-8") if file.exists() else ""
        if not self.check(text == reference, f"{file.name}: what a screen reader gets differs; {ANEW}"):
            found = path.with_suffix(".txt")
            found.write_text(text, encoding="utf-8")
            print("\n".join(run("diff", file, found)[1].splitlines()[:12]))


def look(references, bless, path):
    """Everything about one report."""
    seen, name = Look(), path.stem
    pages, others = by_poppler(path), by_mupdf(path)
    if seen.check(len(pages) == len(others) > 0, f"{name}: {len(pages)} and {len(others)} pages"):
        # Here too the check must be able to fail.
        lost = max(differing(blurred(strip_lost(page)), blurred(page)) for page in pages[:3])
        seen.check(lost > BETWEEN_PROGRAMS, f"{name}: a lost strip is not found ({lost:.3%})")
    for number, (page, other) in enumerate(zip(pages, others, strict=False), 1):
        seen.page(f"{name} {number}", page, other, references / f"{name}-{number}.png", bless)
    if len(pages) <= READ:
        seen.words(path, references / f"{name}.txt", bless)
    return seen


def main():
    words = [word for word in sys.argv[1:] if word != "--bless"]
    bless = "--bless" in sys.argv
    reports, references, contact = (Path(word) for word in words)
    tally = Tally("pages", "pymupdf", "pillow", "numpy")
    print("pages: " + subprocess.run(["pdftoppm", "-v"], capture_output=True, text=True).stderr.splitlines()[0])
    files = sorted(reports.glob("*.pdf"))
    tally.check(files, f"{reports}: no report")
    references.mkdir(parents=True, exist_ok=True)
    if bless:
        for old in [*references.glob("*.png"), *references.glob("*.txt")]:
            old.unlink()
    with Pool(2) as pool:
        looks = list(pool.imap(partial(look, references, bless), files))
    for seen in looks:
        for good, what in seen.checks:
            tally.check(good, what)
    wanted = set().union(*(seen.wanted for seen in looks))
    found = {path.name for path in references.iterdir() if path.suffix in (".png", ".txt")}
    tally.check(found == wanted, f"references without a page: {sorted(found - wanted)[:5]}")
    size = sum(path.stat().st_size for path in references.iterdir())
    tally.check(size < 3_500_000, f"references take {size} bytes")
    pictures = [picture for seen in looks for picture in seen.pictures]
    contact_sheet(pictures, contact)
    print(
        f"pages: {len(pictures)} pages of {len(files)} reports, references {size} bytes, at most "
        f"{max(seen.worst for seen in looks):.3%} from the reference, programs at most "
        f"{max(seen.apart for seen in looks):.2%} apart; contact sheet {contact}"
    )
    tally.close()


if __name__ == "__main__":
    main()
