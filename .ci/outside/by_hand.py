"""Runs the two checks by hand of schemas/ (Python with OpenSSL, Node.js) on every sealed record.

Each record must pass with the records before it, and a copy with one changed byte must not. Records signed here with a
key of this script's own must be refused by both for what is wrong with them, whatever their signature:
python by_hand.py SCHEMAS_FOLDER TOUR_FOLDER TOUR_JSON
"""

import base64
import copy
import hashlib
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import rfc8785
from common import Tally, Tour, parse, record_name

BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551  # of P-256; source: SEC 2
SALT = base64.urlsafe_b64encode(b"sixteen bytes ok").decode().rstrip("=")


def run(script, *arguments):
    program = sys.executable if script.suffix == ".py" else "node"
    return subprocess.run(
        [program, script, *map(str, arguments)], capture_output=True, text=True, check=False
    )


def base58(raw):
    number, text = int.from_bytes(raw, "big"), ""
    while number:
        number, digit = divmod(number, 58)
        text = BASE58[digit] + text
    return "1" * (len(raw) - len(raw.lstrip(b"\0"))) + text


def der_integers(data):
    """The two numbers of a DER signature, which is short enough for lengths of one byte."""
    at, found = 2, []
    for _ in range(2):
        length = data[at + 1]
        found.append(int.from_bytes(data[at + 2 : at + 2 + length], "big"))
        at += 2 + length
    return found


class Signer:
    """Signs records with a key of its own, by OpenSSL."""

    def __init__(self, folder):
        self.folder = folder
        self.openssl("ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", "key.pem")
        point = self.openssl("ec", "-in", "key.pem", "-pubout", "-conv_form", "compressed", "-outform", "DER")[-33:]
        self.did = "did:key:z" + base58(b"\x80\x24" + point)

    def openssl(self, *words):
        return subprocess.run(["openssl", *words], cwd=self.folder, capture_output=True, check=True).stdout

    def sealed(self, record, high=False):
        """The record's bytes with a proof over what it says, whatever that is."""
        record = {name: value for name, value in record.items() if name != "proof"}
        record["issuer"] = {**record["issuer"], "id": self.did}
        proof = {
            "type": "DataIntegrityProof", "cryptosuite": "ecdsa-jcs-2019", "created": record["issued_at"],
            "verificationMethod": self.did + "#" + self.did.removeprefix("did:key:"), "proofPurpose": "assertionMethod",
        }  # fmt: skip
        digests = [hashlib.sha256(rfc8785.dumps(part)).digest() for part in (proof, record)]
        (self.folder / "signed.bin").write_bytes(b"".join(digests))
        r, s = der_integers(self.openssl("dgst", "-sha256", "-sign", "key.pem", "signed.bin"))
        if (s > ORDER // 2) != high:
            s = ORDER - s
        proof["proofValue"] = "z" + base58(r.to_bytes(32, "big") + s.to_bytes(32, "big"))
        return rfc8785.dumps({**record, "proof": proof})


def printed_keys(schemas):
    """The keys that record-format.md lists."""
    page = (schemas / "record-format.md").read_text(encoding="utf-8")
    return [line for line in page.splitlines() if line.startswith("zDnae") and " " not in line]


def disclosure(path, salt, name, value):
    text = json.dumps([salt, name, value], ensure_ascii=False).encode("utf-8")
    return {"path": path, "disclosure": base64.urlsafe_b64encode(text).decode().rstrip("=")}


def digest(entry):
    return base64.urlsafe_b64encode(hashlib.sha256(entry["disclosure"].encode()).digest()).decode().rstrip("=")


def deep(levels):
    value = "x"
    for _ in range(levels):
        value = [value]
    return value


class Trials:
    """Orders that both checks must take or refuse, with the words they must say."""

    def __init__(self, tally, schemas, folder):
        self.tally, self.folder = tally, folder
        self.scripts = [schemas / "check_record.py", schemas / "check_record.mjs"]
        self.signer = Signer(folder)

    def file(self, name, data):
        path = self.folder / name
        path.write_bytes(data if isinstance(data, bytes) else json.dumps(data, ensure_ascii=False).encode("utf-8"))
        return path

    def check(self, what, words, *arguments):
        for script in self.scripts:
            found = run(script, *arguments)
            said = found.stdout + found.stderr
            good = (found.returncode == 0) == (not words) and words in found.stderr
            self.tally.check(good, f"{script.name}, {what}: {found.returncode} {said}")

    def orders(self, record):
        """What is asked in other words than the two options is refused, never passed over."""
        self.check("no file", "no record named")
        self.check("an option first", "no record named", "--previous", record)
        self.check("a name that is no option", "`nosuchfile` is no option", record, "nosuchfile")
        self.check("an option that is not known", "`--blade` is no option", record, "--blade", record)
        self.check("an option without a file", "--disclosures needs a file", record, "--disclosures")
        self.check("an option in the place of a file", "--previous needs a file", record, "--previous", "--disclosures")
        self.check("an option twice", "--previous stands twice", record, "--previous", record, "--previous", record)

    def texts(self, record):
        """Texts that are no strict JSON, whoever signed them."""
        def changed(**members):
            return self.file("text.json", rfc8785.dumps({**record, **members}))

        raw = rfc8785.dumps(record)
        self.check("a number beyond 2^53 - 1", "beyond 2^53 - 1", self.file("text.json", raw[:-1] + b',"z":9007199254740992}'))
        self.check("the number -0", "-0", self.file("text.json", raw[:-1] + b',"z":-0}'))
        self.check("33 levels", "more than 32 levels", changed(z=deep(32)))
        self.check("100000 levels", "refused", self.file("text.json", b"[" * 100_000))
        self.check("U+0000", "U+0000", changed(z="a\0b"))
        self.check("a noncharacter", "noncharacter", changed(z="a\ufdd0b"))
        self.check("a noncharacter at the end of a plane", "noncharacter", changed(z="a\U0001fffeb"))
        self.check("text outside form C", "form C", changed(z="e\u0301"))
        self.check("a list", "no object", self.file("text.json", b"[]"))
        # As many levels as are allowed are read: it fails later, since nobody signed this.
        self.check("32 levels", "signature does not match", changed(z=deep(31)))

    def proofs(self, record):
        signer = self.signer
        self.check("a record signed here", "", self.file("one.json", signer.sealed(record)))
        self.check("the higher s", "not the sealed bytes", self.file("one.json", signer.sealed(record, high=True)))
        keys = printed_keys(self.scripts[0].parent)
        self.tally.check(len(keys) == 3, f"record-format.md lists {len(keys)} printed keys")
        for key in keys:
            twin = copy.deepcopy(record)
            twin["issuer"]["id"] = f"did:key:{key}"
            twin["proof"]["verificationMethod"] = f"did:key:{key}#{key}"
            self.check(f"the printed key {key}", "printed in a specification", self.file("one.json", rfc8785.dumps(twin)))
        other = copy.deepcopy(record)
        other["schema"]["digest"] = "0" * 64
        self.check("another schema file", "ANOTHER schema file", self.file("one.json", signer.sealed(other)))
        other = copy.deepcopy(record)
        other["blade"]["title"] += " altered"
        self.check("a sheet that the plugins did not see", "asked about something else", self.file("one.json", signer.sealed(other)))

    def chain(self, record):
        """A predecessor by name that is none by number, blade or time."""
        def follows(earlier):
            later = copy.deepcopy(record)
            later.update(sequence=2, previous=record_name(earlier), runs=[], findings=[])
            return self.file("later.json", self.signer.sealed(later)), "--previous", self.file("earlier.json", rfc8785.dumps(earlier))

        first = {**copy.deepcopy(record), "sequence": 1, "previous": None}
        self.check("a predecessor", "", *follows(first))
        self.check("a predecessor with another number", "after record 7", *follows({**first, "sequence": 7}))
        self.check("a predecessor about another blade", "another blade", *follows({**first, "blade": {**first["blade"], "id": "z"}}))
        self.check("a predecessor of a later time", "later time", *follows({**first, "issued_at": "9999-01-01T00:00:00Z"}))
        later, option, _ = follows(first)
        self.check("another file", "not the predecessor", later, option, later)

    def disclosures(self, record):
        """A value is shown only under the name and at the place that its digest is for."""
        name = disclosure("/custody/0/to/name", SALT, "name", "A. Weir")
        contact = disclosure("/custody/0/to/contact", SALT[:-2] + "ZA", "contact", "by letter")
        # One salt for two values: whoever knows one of them can search for the other.
        again = disclosure("/custody/0/to/address", SALT, "address", "Lower Weir")
        twin = copy.deepcopy(record)
        twin["custody"][0]["to"] = {"role": "customer", "_sd": sorted(map(digest, (name, contact, again)))}
        twin.update(sequence=1, previous=None, runs=[], findings=[], _sd_alg="sha-256")
        sealed = self.file("one.json", self.signer.sealed(twin))

        def shown(*entries, form="tangmark disclosures 1"):
            return sealed, "--disclosures", self.file("shown.json", {"format": form, "disclosures": list(entries)})

        self.check("two disclosures", "", *shown(name, contact))
        self.check("another form of the file", "no file of disclosures", *shown(name, form="other"))
        self.check("a name under another path", "is one of `name`", *shown({**name, "path": "/custody/0/to/contact"}))
        self.check("a path that ends like the name", "is one of `name`", *shown({**name, "path": "/custody/0/to/x~1name"}))
        self.check("a place that is not there", "refused", *shown({**name, "path": "/custody/9/to/name"}))
        self.check("a value of another record", "another record", *shown(disclosure("/custody/0/to/name", SALT, "name", "B. Weir")))
        self.check("one twice", "stands twice", *shown(name, name))
        self.check("one salt twice", "that of another disclosure", *shown(name, again))
        self.check("a short salt", "not 16 bytes", *shown(disclosure("/custody/0/to/name", "AAAA", "name", "A. Weir")))
        self.check("letters that are none", "base64url", *shown({**name, "disclosure": name["disclosure"] + "*"}))
        # What a stranger wrote is told by number where a terminal would obey it.
        for sign, told in (("\x1b", "U+001B"), ("\n", "U+000A"), ("\u202e", "U+202E"), ("\u2028", "U+2028")):
            odd = f"na{sign}me"
            self.check(f"a name with {told}", f"`na{told}me`", *shown(disclosure("/custody/0/to/name", SALT, odd, "A. Weir")))


def main():
    schemas = Path(sys.argv[1]).resolve()
    script = schemas / "check_record.py"
    tour = Tour(sys.argv[2], sys.argv[3])
    tally = Tally("by-hand", "rfc8785")
    print("by-hand:", subprocess.run(["openssl", "version"], capture_output=True, text=True, check=True).stdout.strip())
    for blade, path in tour.records():
        found = run(script, path)
        tally.check(found.returncode == 0, f"{path.name}: {found.stdout} {found.stderr}")
        tally.check("signature:    matches the issuer's key" in found.stdout, f"{path.name}: says nothing of the signature")
        sealed = path.read_bytes()
        for place in (sealed.index(b'"text"') + 9, len(sealed) // 2, sealed.index(b'"proofValue"') + 20):
            with tempfile.TemporaryDirectory() as folder:
                copied = Path(folder) / path.name
                byte = sealed[place] + 1 if sealed[place] != 0x7A else 0x79
                copied.write_bytes(sealed[:place] + bytes([byte]) + sealed[place + 1 :])
                refused = run(script, copied)
                tally.check(refused.returncode != 0, f"{path.name}: a change at byte {place} passes")
    path = (schemas / "example-record.json").resolve()
    example = parse(path.read_bytes())
    with tempfile.TemporaryDirectory() as folder:
        trials = Trials(tally, schemas, Path(folder))
        trials.orders(path)
        for trial in (trials.texts, trials.proofs, trials.chain, trials.disclosures):
            trial(copy.deepcopy(example))
    tally.close()


main()
