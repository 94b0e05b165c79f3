"""The table of tools and changes: what each tool says of a report changed after signing.

"Valid" is not "unchanged": where an outside tool is known to accept a change the table says so, and ours
must refuse it all the same. A cell that differs, for better or worse, fails, so that the table stays true.
python matrix.py TANGMARK TOUR_FOLDER TOUR_JSON
"""

import hashlib
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import changes
from asn1crypto import pem, x509
from common import Tally, Tour
from verdicts import pdfsig_words, pyhanko_status, run

WHOLE = ("Signature is Valid.", "Total document signed")
PART = ("Signature is Valid.", "Not total document signed")
BAD = ("Digest Mismatch.", "Total document signed")
LOST = ("Signature has not yet been verified.", "Not total document signed")

# change: pdfsig's two lines · pyHanko's coverage, modification, bottom line · our exit code.
# `-` is a tool that gives up with an error.
TABLE = {
    "none": (WHOLE, ("ENTIRE_FILE", "NONE", True), {2}),  # unaltered, signer new to an empty memory
    "bit_in_photo": (BAD, ("ENTIRE_FILE", "NONE", False), {1}),
    "box_on_page": (PART, ("ENTIRE_REVISION", "OTHER", False), {1}),  # pdfsig accepts
    "embedded_swapped": (PART, ("ENTIRE_REVISION", "OTHER", False), {1}),  # pdfsig accepts
    "title_changed": (PART, ("ENTIRE_REVISION", "LTA_UPDATES", True), {1}),  # both accept
    "remark_at_end": (PART, ("ENTIRE_REVISION", "NONE", True), {1}),  # both accept
    "padding_digit": (PART, ("ENTIRE_FILE", "NONE", True), {1}),  # both accept
    "saved_again": (LOST, ("CONTIGUOUS_BLOCK_FROM_START", "OTHER", False), {1}),
}

# What a reader sees of the change; the others show nothing. One bit of a photo may be too little to see.
SEEN = {"box_on_page": {"pages"}, "embedded_swapped": {"record"}, "title_changed": {"title"}}


def shown(path, folder):
    """What a reader sees of a report: its pages, the embedded record, the title."""
    run("pdftoppm", "-r", "60", "-gray", path, folder / "page")
    pages = [hashlib.sha256(page.read_bytes()).hexdigest() for page in sorted(folder.glob("page*.pgm"))]
    run("pdfdetach", "-save", "1", "-o", folder / "record", path)
    title = [line for line in run("pdfinfo", path)[1].splitlines() if line.startswith("Title:")]
    return {"pages": pages, "record": (folder / "record").read_bytes(), "title": title}


def outside(data, certificate):
    """pyHanko's three words."""
    try:
        status, _ = pyhanko_status(data, certificate)
    except Exception as error:  # noqa: BLE001 - any way of giving up is one answer
        return ("-", type(error).__name__, False)
    return (status.coverage.name, status.modification_level.name if status.modification_level else "-", status.bottom_line)


def ours(binary, path, memory):
    """Exit code and JSON of our own verdict, with an empty memory of keys that stays empty."""
    done = subprocess.run(
        [binary, "verify", path, "--json", "--no-remember", "--memory", memory], capture_output=True, text=True, check=False
    )
    try:
        json.loads(done.stdout)
    except ValueError:
        return f"no JSON: {done.stdout[:80]!r} {done.stderr[:200]!r}"
    return done.returncode


def main():
    binary, tour = sys.argv[1], Tour(*sys.argv[2:4])
    tally = Tally("matrix", "pyhanko", "pikepdf")
    data = tour.certificate()
    certificate = x509.Certificate.load(pem.unarmor(data)[2] if pem.detect(data) else data)
    accepted = {"pdfsig": 0, "pyHanko": 0, "tangmark": 0}
    # A report without a photo has no bit in a photo to change.
    reports = [path for _, path in tour.reports() if changes.has_photo(path.read_bytes())]
    tally.check(len(reports) >= 5, f"{len(reports)} reports with a photo, 5 or more wanted")
    for report in reports:
        original, before = report.read_bytes(), None
        for name, (pdfsig_wanted, pyhanko_wanted, codes_wanted) in TABLE.items():
            with tempfile.TemporaryDirectory() as scratch:
                path = Path(scratch) / f"{report.stem}-{name}.pdf"
                twin = getattr(changes, name)(original)
                path.write_bytes(twin)
                tally.check((twin == original) == (name == "none"), f"{path.name}: the change changed nothing")
                now = shown(path, Path(scratch))
                before = before or now
                different = {part for part in now if now[part] != before[part]}
                tally.check(different == SEEN.get(name, set()) or name == "bit_in_photo", f"{path.name}: seen to differ: {different}")
                words = pdfsig_words(path)
                tally.check(words == pdfsig_wanted, f"{path.name}: pdfsig: {words}, {pdfsig_wanted} known")
                verdict = outside(twin, certificate)
                tally.check(verdict == pyhanko_wanted, f"{path.name}: pyHanko: {verdict}, {pyhanko_wanted} known")
                code = ours(binary, path, Path(scratch) / "memory")
                tally.check(code in codes_wanted, f"{path.name}: tangmark verify: {code}, {codes_wanted} wanted")
                if name != "none":
                    accepted["pdfsig"] += words[0].startswith("Signature is Valid")
                    accepted["pyHanko"] += verdict[2]
                    accepted["tangmark"] += code == 0
    changed = len(reports) * (len(TABLE) - 1)
    print(f"of {changed} changed files accepted: " + ", ".join(f"{tool} {count}" for tool, count in accepted.items()))
    tally.close()


main()
