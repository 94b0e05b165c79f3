"""OpenSSL as a time authority, and as the one who checks: records and reports of the tour are stamped and verified.

The authority lives in a temporary folder. Every answer is checked by `openssl ts`, by tangmark and, inside a report, by
pyHanko and pdfsig; what must be refused is tried too: other data, a certificate for another use, a changed token.
python time.py TANGMARK TOUR_FOLDER TOUR_JSON
"""

import json
import sys
import tempfile
from datetime import timedelta
from io import BytesIO
from pathlib import Path

from asn1crypto import pem, x509
from authority import Authority
from common import Tally, Tour, parse, record_name
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext
from verdicts import pdfsig_words, run


class Witness(Authority):
    """The authority, with what these checks need besides."""

    def certificate(self):
        return x509.Certificate.load(pem.unarmor(self.at("root.pem").read_bytes())[2])

    def for_mail(self, good, bad):
        """An answer with the content of a good one, signed by a certificate that is for mail."""
        token, content, other = (self.folder / name for name in ["good.token", "content.der", "bad.token"])
        self.openssl("ts", "-reply", "-in", good, "-token_out", "-out", token)
        self.openssl("cms", "-verify", "-noverify", "-binary", "-inform", "DER", "-in", token, "-out", content)
        self.openssl(
            "cms", "-sign", "-binary", "-nodetach", "-cades", "-md", "sha256", "-econtent_type", "1.2.840.113549.1.9.16.1.4",
            "-in", content, "-outform", "DER", "-signer", self.at("mail.pem"), "-inkey", self.at("mail.key"), "-out", other,
        )
        bad.write_bytes(other.read_bytes())


def tangmark(binary, folder, *words):
    """Exit code, what it printed as JSON where it is, and all that it said."""
    code, out = run("env", "-u", "TANGMARK_WORKSHOP", f"XDG_DATA_HOME={folder}", binary, *words)
    begin = out.find("{")
    try:
        answer, _ = json.JSONDecoder().raw_decode(out[begin:]) if begin >= 0 else ({}, 0)
    except ValueError:
        answer = {}
    return code, answer, out


def verify(binary, folder, file, *words):
    return tangmark(binary, folder, "verify", file, "--json", "--no-remember", *words)


def flipped(path, to, at=-1):
    """The file with one bit of one byte turned; the last byte lies in the value of the token's signature."""
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    to.write_bytes(data)
    return to


def check_record(tally, binary, folder, authority, other, path):
    """A record's name, stamped on a question that OpenSSL wrote."""
    name = record_name(parse(path.read_bytes()))
    what = f"{path.name}, {authority.name}"
    question, answer = folder / "r.tsq", folder / "r.tsr"
    authority.openssl("ts", "-query", "-digest", name, "-sha256", "-cert", "-out", question)
    authority.stamp(question, answer)
    trust = ["--authority", authority.at("root.pem")]
    code, out = run("openssl", "ts", "-verify", "-digest", name, "-in", answer, "-CAfile", authority.at("root.pem"))
    tally.check(code == 0 and "Verification: OK" in out, f"{what}: openssl ts: {out}")
    code, said, out = verify(binary, folder, path, "--timestamp", answer, *trust)
    tally.check(code == 2 and said["time"].get("standing") == "trusted", f"{what}: trusted: {out}")
    code, said, out = verify(binary, folder, path, "--timestamp", answer, "--authority", other.at("root.pem"))
    tally.check(code == 2 and said["time"].get("standing") == "unknown", f"{what}: another root: {out}")
    # Refused: another record's, another use, a changed token. OpenSSL refuses them too.
    wrong = folder / "wrong.tsr"
    authority.openssl("ts", "-query", "-digest", name[::-1], "-sha256", "-cert", "-out", question)
    authority.stamp(question, wrong)
    mail = folder / "mail.tsr"
    authority.for_mail(answer, mail)
    for bad, words in [
        (wrong, "was to be stamped"),
        (mail, "not for `timeStamping` alone"),
        (flipped(answer, folder / "flipped.tsr"), "the signature does not fit"),
    ]:
        kind = ["-token_in"] if bad == mail else []
        code, _ = run("openssl", "ts", "-verify", "-digest", name, "-in", bad, *kind, "-CAfile", authority.at("root.pem"))
        tally.check(code != 0, f"{what}: openssl ts accepts {bad.name}")
        code, said, out = verify(binary, folder, path, "--timestamp", bad, *trust)
        tally.check(code == 1 and words in out, f"{what}: {bad.name} is not refused: {out}")
        tally.check(said.get("time", {}).get("state") == "own_word", f"{what}: {bad.name} is heard: {out}")


def check_report(tally, binary, folder, authority, pinned, path):
    """A report's signature, stamped on a question that tangmark wrote, with the answer inside."""
    what = f"{path.name}, {authority.name}"
    question, answer, timed = (folder / f"{path.stem}-{authority.name}{end}" for end in [".tsq", ".tsr", ".pdf"])
    code, _, out = tangmark(binary, folder, "time", "request", "--pdf", path, "--out", question)
    tally.check(code == 0, f"{what}: request: {out}")
    text = authority.openssl("ts", "-query", "-in", question, "-text")
    tally.check("Hash Algorithm: sha256" in text and "Certificate required: yes" in text, f"{what}: request: {text}")
    authority.stamp(question, answer)
    code, out = run("openssl", "ts", "-verify", "-queryfile", question, "-in", answer, "-CAfile", authority.at("root.pem"))
    tally.check(code == 0 and "Verification: OK" in out, f"{what}: openssl ts: {out}")
    bad = flipped(answer, folder / "flipped.tsr")
    code, _, out = tangmark(binary, folder, "time", "add", "--pdf", path, bad, "--out", timed)
    tally.check(code == 1 and "does not fit" in out and not timed.exists(), f"{what}: a changed answer goes in: {out}")
    code, _, out = tangmark(binary, folder, "time", "add", "--pdf", path, answer, "--request", question, "--out", timed)
    if not tally.check(code == 0 and timed.exists(), f"{what}: add: {out}"):
        return
    before, after = path.read_bytes(), timed.read_bytes()
    tally.check(len(before) == len(after), f"{what}: the length changed")
    tally.check(pdfsig_words(timed) == ("Signature is Valid.", "Total document signed"), f"{what}: pdfsig: {pdfsig_words(timed)}")
    status = validate(after, pinned, authority.certificate())
    stamp = status.timestamp_validity
    tally.check(status.intact and status.valid and status.bottom_line, f"{what}: pyHanko: {status.summary()}")
    tally.check(status.coverage.name == "ENTIRE_FILE" and status.modification_level.name == "NONE", f"{what}: {status.coverage}")
    if tally.check(stamp is not None, f"{what}: pyHanko sees no timestamp"):
        tally.check(stamp.valid and stamp.intact and stamp.trusted, f"{what}: pyHanko: timestamp {stamp.summary()}")
        code, said, out = verify(binary, folder, timed, "--authority", authority.at("root.pem"))
        time = said.get("time", {})
        tally.check(code == 2 and time.get("standing") == "trusted", f"{what}: verify: {out}")
        # The upper limit: the token's time and its accuracy of one second.
        latest = (stamp.timestamp + timedelta(seconds=1)).strftime("%Y-%m-%dT%H:%M:%SZ")
        tally.check(time.get("time") == latest, f"{what}: {time} or {latest}")
    tally.check(validate(before, pinned, authority.certificate()).timestamp_validity is None, f"{what}: a timestamp from nowhere")
    # A changed token inside: pyHanko says so of the timestamp, tangmark of the report.
    token = authority.folder / "inside.token"
    authority.openssl("ts", "-reply", "-in", answer, "-token_out", "-out", token)
    digits = token.read_bytes().hex().encode()
    at = after.find(digits)
    if tally.check(at > 0, f"{what}: the token is not in the report as it came"):
        changed = bytearray(after)
        last = at + len(digits) - 1
        changed[last] = ord("0") if changed[last] != ord("0") else ord("1")
        (folder / "changed.pdf").write_bytes(changed)
        code, _, out = verify(binary, folder, folder / "changed.pdf", "--authority", authority.at("root.pem"))
        tally.check(code == 1 and "time token" in out, f"{what}: a changed token inside: {out}")
        stamp = validate(bytes(changed), pinned, authority.certificate()).timestamp_validity
        tally.check(stamp is None or not (stamp.valid and stamp.intact), f"{what}: pyHanko accepts a changed token")


def validate(data, signer, authority):
    """pyHanko's status with both pinned; nothing is fetched."""
    signature = PdfFileReader(BytesIO(data)).embedded_signatures[0]
    pinned = ValidationContext(trust_roots=[signer], allow_fetching=False)
    time = ValidationContext(trust_roots=[authority], allow_fetching=False)
    return validate_pdf_signature(signature, signer_validation_context=pinned, ts_validation_context=time)


def main():
    binary, tour = Path(sys.argv[1]).resolve(), Tour(*sys.argv[2:4])
    tally = Tally("time", "pyhanko", "pyhanko-certvalidator", "asn1crypto")
    pinned = x509.Certificate.load(pem.unarmor(tour.certificate())[2])
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        authorities = [Witness(folder, "harbour", "rsa"), Witness(folder, "tower", "P-256")]
        for number, (_, path) in enumerate(tour.records()):
            check_record(tally, binary, folder, authorities[number % 2], authorities[(number + 1) % 2], path.resolve())
        # Reports that are stamped: the first of each blade. Every record is.
        first = {}
        for blade, path in tour.reports():
            first.setdefault(blade, path.resolve())
        for number, path in enumerate(first.values()):
            check_report(tally, binary, folder, authorities[number % 2], pinned, path)
        tally.check(len(first) >= 3, f"{len(first)} reports only")
    tally.close()


if __name__ == "__main__":
    main()
