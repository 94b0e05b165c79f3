"""Hands every signed report to other people's PDF tools and asks more than "valid".

pyHanko (whole-file coverage, no modification, pinned certificate), pdfsig (its words: its exit code is 0
for a bad digest too), openssl, qpdf, pdfinfo, pdffonts, pdfdetach, zbarimg, pdfua and outloud:
python pdf.py TOUR_FOLDER TOUR_JSON
"""

import base64
import hashlib
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import base58
from asn1crypto import pem, x509
from common import Tally, Tour, parse, record_name
from verdicts import pdfsig_words, pyhanko_status, run

TOOLS = Path(sys.executable).parent


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


def outloud_errors(findings, path):
    """outloud's errors but for two guesses that were looked into and are wrong here."""
    told = set(re.findall(r"\w+", run("pdfinfo", "-struct-text", path)[1]))
    for finding in findings:
        if finding["severity"] != "error":
            continue
        counts = [int(number) for number in re.findall(r"\d+", finding["message"])]
        # A table of one row has a head for each column and one for the row: two more than its data cells.
        one_row = finding["rule"] == "TBL-010" and len(counts) == 2 and counts[0] == counts[1] + 2
        # The head that a table repeats on the next page is an artifact; its words are told where they first stand.
        head_again = finding["rule"] == "TAG-002" and set(re.findall(r"\w+", finding.get("evidence", "?"))) <= told
        if not one_row and not head_again:
            yield f"{finding['rule']} {finding['message']} {finding.get('evidence', '')}"


def check_report(tally, path, records, certificate, certificate_pem):
    """All checks of one report; `records` are the sealed files of its blade."""
    name = path.name
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        _, out = run("pdfdetach", "-list", path)
        tally.check(out.startswith("1 embedded files"), f"{name}: pdfdetach: {out.strip()}")
        run("pdfdetach", "-save", "1", "-o", folder / "record.json", path)
        embedded = (folder / "record.json").read_bytes()
        tally.check(any(embedded == r.read_bytes() for r in records), f"{name}: embedded record is no sealed file of the blade")
        record = parse(embedded)

        status, fields = pyhanko_status(path.read_bytes(), certificate)
        tally.check(fields == 1, f"{name}: pyHanko: {fields} signatures, 1 wanted")
        tally.check(status.intact and status.valid, f"{name}: pyHanko: not intact or not valid")
        tally.check(status.coverage.name == "ENTIRE_FILE", f"{name}: pyHanko: coverage {status.coverage.name}")
        tally.check(status.modification_level.name == "NONE", f"{name}: pyHanko: modification {status.modification_level.name}")
        tally.check(status.docmdp_ok is True, f"{name}: pyHanko: certification {status.docmdp_ok}")
        tally.check(status.trusted and status.bottom_line, f"{name}: pyHanko: not trusted under the pinned certificate")
        tally.check(status.signing_cert.dump() == certificate.dump(), f"{name}: signed under another certificate")
        stranger, _ = pyhanko_status(path.read_bytes(), None)
        tally.check(not stranger.trusted and stranger.intact, f"{name}: pyHanko: trusted without the pinned certificate")
        point = base58.b58decode(record["issuer"]["id"].removeprefix("did:key:z"))[2:]
        public = status.signing_cert.public_key["public_key"].native
        compressed = bytes([2 + public[-1] % 2]) + public[1:33]
        tally.check(compressed == point, f"{name}: certificate's key is not the issuer's")

        words = pdfsig_words(path)
        tally.check(words == ("Signature is Valid.", "Total document signed"), f"{name}: pdfsig: {words}")
        why = signature_by_openssl(path, certificate_pem, folder)
        tally.check(why is None, f"{name}: openssl cms: {why}")

        code, out = run("qpdf", "--check", path)
        tally.check(code == 0, f"{name}: qpdf: {out.strip()}")
        _, out = run("pdfinfo", path)
        facts = dict(re.findall(r"^([A-Za-z ]+):\s*(.*)$", out, re.M))
        for fact, wanted in (("Tagged", "yes"), ("JavaScript", "no"), ("Encrypted", "no"), ("PDF version", "1.7")):
            tally.check(facts.get(fact) == wanted, f"{name}: pdfinfo: {fact} is {facts.get(fact)}, {wanted} wanted")
        _, out = run("pdffonts", path)
        fonts = [line.split() for line in out.splitlines()[2:]]
        tally.check(fonts, f"{name}: pdffonts: no font")
        # From the right: object ID (two words), uni, sub, emb.
        tally.check(all(font[-5:-2] == ["yes"] * 3 for font in fonts), f"{name}: pdffonts: not embedded, reduced or readable\n{out}")

        run("pdftoppm", "-r", "150", "-png", path, folder / "page")
        codes = ""
        for page in sorted(folder.glob("page*.png")):
            codes += run("zbarimg", "--quiet", "--raw", page)[1]
        digest, print_ = record_name(record), fingerprint(record["issuer"]["id"])
        tally.check(digest in codes.lower() or print_ in codes.upper(), f"{name}: QR code reads `{codes.strip()}`, neither {digest} nor {print_} in it")
        text = run("pdftotext", path, "-")[1]
        tally.check(print_ in text, f"{name}: fingerprint {print_} not in the text")

        _, out = run(TOOLS / "pdfua", "check", "--format", "json", path)
        report = json.loads(out)
        summary = report["summary"]
        wrong = [f"{f['rule_id']} {f['message']}" for f in report["findings"] if f["severity"] == "error"]
        tally.check(not wrong and summary["rules_run"] > 0, f"{name}: pdfua: {wrong}")
        run(TOOLS / "outloud", path, "--json", folder / "outloud.json")
        result = json.loads((folder / "outloud.json").read_text())["results"][0]
        wrong = list(outloud_errors(result["findings"], path))
        tally.check(not wrong and result["error"] is None, f"{name}: outloud: {wrong or result['error']}")
        print(
            f"{name}: {len(fonts)} fonts, pdfua ran {summary['rules_run']} rules and skipped {summary['rules_skipped']}, "
            f"outloud counts {result['counts']}"
        )


def main():
    tour = Tour(*sys.argv[1:3])
    tally = Tally("pdf", "pyhanko", "pyhanko-certvalidator", "pdfua", "outloud")
    for tool in (["pdfsig", "-v"], ["qpdf", "--version"], ["zbarimg", "--version"], ["openssl", "version"]):
        print(f"pdf: {tool[0]}: {run(*tool)[1].splitlines()[0]}")
    data = tour.certificate()
    der = pem.unarmor(data)[2] if pem.detect(data) else data
    certificate = x509.Certificate.load(der)
    certificate_pem = pem.armor("CERTIFICATE", der)
    reports = tour.reports()
    tally.check(len(reports) >= 5, f"{len(reports)} reports, 5 or more wanted")
    for blade, path in reports:
        records = [record for owner, record in tour.records() if owner == blade]
        check_report(tally, path, records, certificate, certificate_pem)
    tally.close()


main()
