"""Hands every signed report to other people's PDF tools and asks more than "valid".

pyHanko (whole-file coverage, no modification, pinned certificate), pdfsig (its words: its exit code is 0
for a bad digest too), openssl, qpdf, pdfinfo, pdffonts, pdfimages, pdfdetach, zbarimg, pdfua and outloud:
python pdf.py TOUR_FOLDER TOUR_JSON [TANGMARK]

With TANGMARK, the program itself, the newest record of one blade is also reported in every kind and language, and once
with everything that it withholds.
"""

import base64
import hashlib
import re
import subprocess
import sys
import tempfile
from dataclasses import replace
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import base58
import outloud
import pdfua
from asn1crypto import pem, x509
from common import Tally, Tour, parse, record_name
from verdicts import pdfsig_words, pyhanko_status, run

KINDS = ["condition", "comparison", "buyer", "referral", "identification", "labels", "care"]
LANGUAGES = ["en", "ja", "both"]
# Kinds that have the table of stations; a report without a kind in its name is one of the condition.
WITH_STATIONS = ["condition", "-referral-"]
# The blade that is reported in all of them: it has a record before work and one after it.
ALL_OF = "reed"


# Words that stand at the head and foot of pages only, beside title, number and digest of the record and its key.
OF_PAGES = set(re.findall(
    r"\w+", "DEMONSTRATION, signed with a throw-away key / 見本：使い捨ての鍵による署名; page of ページ key fingerprint 鍵の指紋 record 記録"
))
# Height of head and foot from the edge of the paper, in points; the frame of the text begins further in.
HEAD = 45


class Checks(list):
    """Checks of one report, made in another process: whether each is good, and what it is."""

    def check(self, good, what):
        self.append((bool(good), what))


def fingerprint(issuer):
    """100 bits of SHA-256 over the compressed key, 20 Base32 characters in groups of five."""
    point = base58.b58decode(issuer.removeprefix("did:key:z"))[2:]
    letters = base64.b32encode(hashlib.sha256(point).digest()).decode()[:20]
    return "-".join(letters[i : i + 5] for i in range(0, 20, 5))


def signature_by_openssl(pdf, certificate_pem, folder):
    """The signature cut out of the file and verified by `openssl cms` alone."""
    data = pdf.read_bytes()
    numbers = re.search(rb"/ByteRange\s*\[\s*(\d+) (\d+) (\d+) (\d+)\s*\]", data)
    if not numbers:
        return "no ByteRange"
    first, open_, close, rest = map(int, numbers.groups())
    contents = data[first + open_ : close].strip(b"<>")
    der = bytes.fromhex(contents.decode())
    # The length stands in the DER itself; what follows is padding.
    if der[1] == 0x82:
        length = 4 + int.from_bytes(der[2:4], "big")
    elif der[1] == 0x81:
        length = 3 + der[2]
    else:
        return "no DER of the expected size"
    (folder / "sig.der").write_bytes(der[:length])
    (folder / "signed.bin").write_bytes(data[first : first + open_] + data[close : close + rest])
    (folder / "ca.pem").write_bytes(certificate_pem)
    done = subprocess.run(
        ["openssl", "cms", "-verify", "-inform", "DER", "-in", "sig.der", "-content", "signed.bin", "-binary"]
        + ["-CAfile", "ca.pem", "-purpose", "any", "-out", "/dev/null"],
        cwd=folder, capture_output=True, text=True, check=False,
    )
    return None if done.returncode == 0 and "uccess" in done.stderr else done.stderr.strip()


def outloud_errors(findings):
    """outloud's errors but for two guesses that were looked into and are wrong here."""
    for finding in findings:
        if finding.severity != "error":
            continue
        counts = [int(number) for number in re.findall(r"\d+", finding.message)]
        # A table of one row has a head for each column and one for the row: two more than its data cells.
        one_row = finding.rule == "TBL-010" and len(counts) == 2 and counts[0] == counts[1] + 2
        # Of prose that is an artifact outloud shows the beginnings of two lines; `untold` looks at every word of it.
        if not one_row and finding.rule != "TAG-002":
            yield f"{finding.rule} {finding.message} {finding.evidence}"


def without_spaces(text):
    return "".join(text.split())


def untold(runs, of_pages):
    """Artifacts with words that no reader is told, of runs of text, each beside the height of its page.

    Titles and stamps of pages are artifacts, as they should be (ISO 14289-1, 7.8, from memory): at head and foot the words
    `of_pages` and numbers of pages may stand. The head that a table repeats on the next page is an artifact, too; its words
    stand where the table begins, tagged.
    """
    told = without_spaces("".join(run.text for _, run in runs if run.tagged and not run.artifact))
    for height, run in runs:
        if not run.artifact or without_spaces(run.text) in told:
            continue
        at_edge = run.bbox[3] <= HEAD or run.bbox[1] >= height - HEAD
        words = re.findall(r"\w+", run.text)
        if not at_edge or any(word not in of_pages and not re.fullmatch(r"\d{1,3}", word) for word in words):
            yield run.text


def check_artifacts(checks, path, record):
    """That nothing is hidden from a screen reader, by outloud's own walk over the pages."""
    document = outloud.Document(str(path))
    try:
        runs = [(page.height, run) for page in document.pages for run in document.content(page.index).runs]
    finally:
        document.close()
    own = f"{record['blade']['title']} {record['blade']['id']} {fingerprint(record['issuer']['id'])}"
    name = record_name(record)
    groups = {name[at : at + 8] for at in range(0, len(name), 8)}
    of_pages = OF_PAGES | groups | set(re.findall(r"\w+", own))
    hidden = list(untold(runs, of_pages))
    checks.check(not hidden, f"{path.name}: artifacts whose words are told nowhere: {hidden[:3]}")
    # The check must be able to fail: a line that stands once, made an artifact, is found.
    texts = [without_spaces(run.text) for _, run in runs]
    whole = "".join(texts)
    once = [at for at, (_, run) in enumerate(runs) if run.tagged and texts[at] and whole.count(texts[at]) == 1]
    longest = max(once, key=lambda at: len(texts[at]))
    height, run = runs[longest]
    planted = [*runs[:longest], (height, replace(run, artifact=True)), *runs[longest + 1 :]]
    checks.check(run.text in untold(planted, of_pages), f"{path.name}: a hidden line is not found: {run.text}")


def measurement_rows(record):
    """For each station of a record what its row of the table must hold, in order: whole millimetres of its place."""
    stations = record.get("dimensions", {}).get("stations", [])
    return [station["at"]["value"].partition(".")[0] for station in stations]


def in_order(rows, text):
    """Whether the lines of a text that begin with these numbers come in their order, none left out."""
    lines = iter(text.splitlines())
    return all(any(re.match(rf"\s*{row}(\D|$)", line) for line in lines) for row in rows)


def codes_on(path, folder):
    """What the QR codes of a report say: drawn page by page, until one is read."""
    for page in range(1, 40):
        if run("pdftoppm", "-r", "200", "-gray", "-singlefile", "-f", page, "-l", page, path, folder / "page")[0] != 0:
            break
        picture = folder / "page.pgm"
        if not picture.exists():
            break
        # Only QR codes: it takes hatching for codes of other kinds.
        codes = run("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", picture)[1].strip()
        picture.unlink()
        if codes:
            return codes
    return ""


def check_signature(checks, path, record, certificate, certificate_pem, folder):
    """Who signed, and over what."""
    name = path.name
    status, fields = pyhanko_status(path.read_bytes(), certificate)
    checks.check(fields == 1, f"{name}: pyHanko: {fields} signatures, 1 wanted")
    checks.check(status.intact and status.valid, f"{name}: pyHanko: not intact or not valid")
    checks.check(status.coverage.name == "ENTIRE_FILE", f"{name}: pyHanko: coverage {status.coverage.name}")
    checks.check(status.modification_level.name == "NONE", f"{name}: pyHanko: modification {status.modification_level.name}")
    checks.check(status.docmdp_ok is True, f"{name}: pyHanko: certification {status.docmdp_ok}")
    checks.check(status.trusted and status.bottom_line, f"{name}: pyHanko: not trusted under the pinned certificate")
    checks.check(status.signing_cert.dump() == certificate.dump(), f"{name}: signed under another certificate")
    stranger, _ = pyhanko_status(path.read_bytes(), None)
    checks.check(not stranger.trusted and stranger.intact, f"{name}: pyHanko: trusted without the pinned certificate")
    point = base58.b58decode(record["issuer"]["id"].removeprefix("did:key:z"))[2:]
    public = status.signing_cert.public_key["public_key"].native
    compressed = bytes([2 + public[-1] % 2]) + public[1:33]
    checks.check(compressed == point, f"{name}: certificate's key is not the issuer's")
    words = pdfsig_words(path)
    checks.check(words == ("Signature is Valid.", "Total document signed"), f"{name}: pdfsig: {words}")
    why = signature_by_openssl(path, certificate_pem, folder)
    checks.check(why is None, f"{name}: openssl cms: {why}")


def check_pages(checks, path, record, folder):
    """What stands on the pages, and how it is put into the file."""
    name = path.name
    code, out = run("qpdf", "--check", path)
    checks.check(code == 0, f"{name}: qpdf: {out.strip()}")
    _, out = run("pdfinfo", path)
    facts = dict(re.findall(r"^([A-Za-z ]+):\s*(.*)$", out, re.M))
    for fact, wanted in (("Tagged", "yes"), ("JavaScript", "no"), ("Encrypted", "no"), ("PDF version", "1.7")):
        checks.check(facts.get(fact) == wanted, f"{name}: pdfinfo: {fact} is {facts.get(fact)}, {wanted} wanted")
    _, out = run("pdffonts", path)
    fonts = [line.split() for line in out.splitlines()[2:]]
    checks.check(fonts, f"{name}: pdffonts: no font")
    # From the right: object ID (two words), uni, sub, emb.
    checks.check(all(font[-5:-2] == ["yes"] * 3 for font in fonts), f"{name}: pdffonts: not embedded, reduced or readable\n{out}")
    # Each picture is the JPEG that it was: page, num, type, width, height, color, comp, bpc, enc.
    pictures = [line.split() for line in run("pdfimages", "-list", path)[1].splitlines()[2:]]
    checks.check(all(picture[8] == "jpeg" for picture in pictures), f"{name}: pdfimages: a picture is no JPEG")

    codes = codes_on(path, folder)
    digest, print_ = record_name(record), fingerprint(record["issuer"]["id"])
    checks.check(digest in codes.lower() or print_ in codes.upper(), f"{name}: QR code reads `{codes}`, neither {digest} nor {print_} in it")
    text = run("pdftotext", "-layout", path, "-")[1]
    checks.check(print_ in text, f"{name}: fingerprint {print_} not in the text")
    # Some kinds have a row for each station.
    if any(kind in name for kind in WITH_STATIONS) or not any(kind in name for kind in KINDS):
        rows = measurement_rows(record)
        checks.check(in_order(rows, text), f"{name}: pdftotext: the table of stations {rows} is not there in order")
    return fonts, pictures


def check_report(certificate_der, certificate_pem, task):
    """All checks of one report: its file, the sealed files of its blade, how many files are in it."""
    path, records, embedded_files = task
    checks, name = Checks(), path.name
    certificate = x509.Certificate.load(certificate_der)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        _, out = run("pdfdetach", "-list", path)
        checks.check(out.startswith(f"{embedded_files} embedded files"), f"{name}: pdfdetach: {out.strip()}")
        place = [line for line in out.splitlines() if line.endswith("record.json")][0].split(":")[0]
        run("pdfdetach", "-save", place, "-o", folder / "record.json", path)
        embedded = (folder / "record.json").read_bytes()
        checks.check(any(embedded == r.read_bytes() for r in records), f"{name}: embedded record is no sealed file of the blade")
        record = parse(embedded)
        check_signature(checks, path, record, certificate, certificate_pem, folder)
        fonts, pictures = check_pages(checks, path, record, folder)

        report = pdfua.validate(str(path)).to_dict()
        summary = report["summary"]
        wrong = [f"{f['rule_id']} {f['message']}" for f in report["findings"] if f["severity"] == "error"]
        checks.check(not wrong and summary["rules_run"] > 0, f"{name}: pdfua: {wrong}")
        result = outloud.check(str(path))
        wrong = list(outloud_errors(result.findings))
        checks.check(not wrong and result.error is None, f"{name}: outloud: {wrong or result.error}")
        check_artifacts(checks, path, record)
    line = (
        f"{name}: {len(fonts)} fonts, {len(pictures)} pictures, pdfua ran {summary['rules_run']} rules and skipped "
        f"{summary['rules_skipped']}, outloud: {result.errors} errors, {result.warnings} warnings"
    )
    return checks, line


def all_kinds(tour, binary, folder):
    """Reports of one blade in every kind and language, and one that shows what the record withholds."""
    blade = next(b["id"] for b in tour.blades if b["id"].startswith(ALL_OF))
    secret = folder / "passphrase"
    secret.write_text(tour.listing["passphrase"] + "\n")
    wishes = [(kind, language, []) for kind in KINDS for language in LANGUAGES]
    wishes.append(("buyer", "both", ["--reveal", "all"]))
    for kind, language, more in wishes:
        out = folder / f"{blade}-{kind}-{language}{'-revealed' if more else ''}.pdf"
        done = run(
            binary, "--workshop", tour.folder, "report", blade, "--kind", kind, "--language", language,
            "--out", out, "--passphrase-file", secret, *more,
        )
        yield done, out, 2 if more else 1


def main():
    tour = Tour(*sys.argv[1:3])
    tally = Tally("pdf", "pyhanko", "pyhanko-certvalidator", "pdfua", "outloud")
    for tool in (["pdfsig", "-v"], ["qpdf", "--version"], ["zbarimg", "--version"], ["openssl", "version"]):
        print(f"pdf: {tool[0]}: {run(*tool)[1].splitlines()[0]}")
    data = tour.certificate()
    der = pem.unarmor(data)[2] if pem.detect(data) else data
    certificate_pem = pem.armor("CERTIFICATE", der)
    reports = tour.reports()
    tally.check(len(reports) >= 5, f"{len(reports)} reports, 5 or more wanted")
    owned = tour.records()
    tasks = [(path, [record for owner, record in owned if owner == blade], 1) for blade, path in reports]
    with tempfile.TemporaryDirectory() as scratch:
        if len(sys.argv) > 3:
            records = [record for owner, record in owned if owner.startswith(ALL_OF)]
            for (code, said), path, files in all_kinds(tour, sys.argv[3], Path(scratch)):
                if tally.check(code == 0, f"{path.name}: not made: {said.strip()}"):
                    tasks.append((path, records, files))
        with Pool(2) as pool:
            for checks, line in pool.imap(partial(check_report, der, certificate_pem), tasks):
                for good, what in checks:
                    tally.check(good, what)
                print(line)
    tally.close()


if __name__ == "__main__":
    main()
