#!/usr/bin/env python3
"""Check a sealed record by hand: Python's own library and the openssl command, nothing else.

Usage:  python3 check_record.py RECORD.json [--disclosures FILE.json] [--previous EARLIER.json]

It is written to be read. What each step means is told in record-format.md, in the section of the same name.
Exit code 0 means that every step held. It says nothing about who owns the key: compare the fingerprint.
"""
import base64
import hashlib
import json
import subprocess
import sys
import tempfile
import unicodedata
from pathlib import Path

BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551  # of P-256; source: SEC 2
# SubjectPublicKeyInfo of a compressed P-256 point, up to the point; source: RFC 5480
SPKI = bytes.fromhex("3039301306072a8648ce3d020106082a8648ce3d030107032200")


class Refused(Exception):
    """Why a step did not hold."""


def demand(holds, why):
    if not holds:
        raise Refused(why)


# Strict JSON ----------------------------------------------------------------


def read(data):
    """One JSON value: no key twice, whole numbers only, all text in form C."""

    def members(pairs):
        names = [name for name, _ in pairs]
        demand(len(names) == len(set(names)), f"a key stands twice among {names}")
        return dict(pairs)

    def refuse(text):
        raise Refused(f"the number {text} is not a whole number")

    text = data.decode("utf-8")
    demand(unicodedata.is_normalized("NFC", text), "text outside Unicode form C")
    return json.loads(text, object_pairs_hook=members, parse_float=refuse, parse_constant=refuse)


def canonical(value):
    """RFC 8785 for values without fractions and with keys of plain ASCII, as records are."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode("utf-8")


# The key --------------------------------------------------------------------


def base58(text):
    number = 0
    for letter in text:
        demand(letter in BASE58, f"`{letter}` is no letter of base58btc")
        number = number * 58 + BASE58.index(letter)
    zeros = len(text) - len(text.lstrip("1"))
    return b"\0" * zeros + number.to_bytes((number.bit_length() + 7) // 8, "big")


def point_of(did):
    """The 33 bytes of the compressed point in did:key:z… (multicodec p256-pub, 80 24)."""
    demand(did.startswith("did:key:z"), f"{did} is no did:key")
    raw = base58(did[len("did:key:z"):])
    demand(raw[:2] == b"\x80\x24" and len(raw) == 35, f"{did} is no P-256 key")
    return raw[2:]


def fingerprint(point):
    text = base64.b32encode(hashlib.sha256(point).digest()[:13]).decode()[:20]
    return "-".join(text[at : at + 5] for at in range(0, 20, 5))


# The proof ------------------------------------------------------------------


def der_integer(number):
    raw = number.to_bytes(number.bit_length() // 8 + 1, "big")
    return bytes([2, len(raw)]) + raw


def check_proof(record):
    proof = record["proof"]
    demand(isinstance(proof, dict), "`proof` is not exactly one object")
    allowed = {"type", "cryptosuite", "created", "verificationMethod", "proofPurpose", "proofValue"}
    demand(set(proof) == allowed, f"the proof has the fields {sorted(proof)}")
    demand(proof["type"] == "DataIntegrityProof", "another type of proof")
    demand(proof["cryptosuite"] == "ecdsa-jcs-2019", "another cryptosuite")
    demand(proof["proofPurpose"] == "assertionMethod", "another purpose of proof")
    demand(proof["created"] == record["issued_at"], "`created` differs from `issued_at`")
    did = record["issuer"]["id"]
    demand(proof["verificationMethod"] == did + "#" + did[len("did:key:"):], "the proof names another key than the issuer")

    options = {name: value for name, value in proof.items() if name != "proofValue"}
    document = {name: value for name, value in record.items() if name != "proof"}
    signed = hashlib.sha256(canonical(options)).digest() + hashlib.sha256(canonical(document)).digest()
    demand(proof["proofValue"].startswith("z"), "the signature is not multibase base58btc")
    signature = base58(proof["proofValue"][1:])
    demand(len(signature) == 64, f"the signature has {len(signature)} bytes instead of 64")
    r, s = int.from_bytes(signature[:32], "big"), int.from_bytes(signature[32:], "big")
    demand(0 < r < ORDER and 0 < s < ORDER, "r or s is out of range")

    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        body = der_integer(r) + der_integer(s)
        (folder / "signature.der").write_bytes(bytes([0x30, len(body)]) + body)
        (folder / "key.der").write_bytes(SPKI + point_of(did))
        (folder / "signed.bin").write_bytes(signed)
        run = lambda *words: subprocess.run(["openssl", *words], cwd=folder, capture_output=True, text=True)
        made = run("pkey", "-pubin", "-inform", "DER", "-in", "key.der", "-out", "key.pem")
        demand(made.returncode == 0, f"openssl does not take the key: {made.stderr.strip()}")
        done = run("dgst", "-sha256", "-verify", "key.pem", "-signature", "signature.der", "signed.bin")
        demand(done.returncode == 0 and "Verified OK" in done.stdout, "the signature does not match: the record was altered")


# What plugins were asked, and what was withheld ------------------------------

BESIDE_THE_SHEET = {
    "schema", "record_id", "sequence", "previous", "issuer", "purpose", "issued_at", "runs", "findings",
    "private_findings", "decision", "overrides", "worked_under_hold", "valuation", "_sd", "_sd_alg", "proof",
}  # fmt: skip


def check_input(record):
    """The digest of what the plugins saw; of a third or later record it needs the names of all before it."""
    if record["sequence"] > 2:
        print("input:        not recomputed: it needs the names of all earlier records")
        return
    sheet = {name: value for name, value in record.items() if name not in BESIDE_THE_SHEET}
    history = [record["previous"]] if record["previous"] else []
    asked = {"history": history, "now": record["issued_at"], "sheet": sheet}
    digest = hashlib.sha256(canonical(asked)).hexdigest()
    for run in record.get("runs", []):
        demand(run["input"] == digest, f"the plugin {run['plugin']} was asked about something else")
    print(f"input:        {digest}, the same for {len(record.get('runs', []))} runs")


def at(value, pointer):
    for part in pointer.split("/")[1:]:
        part = part.replace("~1", "/").replace("~0", "~")
        value = value[int(part)] if isinstance(value, list) else value[part]
    return value


def check_disclosures(record, path):
    listed = read(Path(path).read_bytes())
    demand(listed.get("format") == "tangmark disclosures 1", "no file of disclosures")
    seen = set()
    for entry in listed["disclosures"]:
        text = entry["disclosure"]
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode("ascii")).digest()).decode().rstrip("=")
        salt, name, value = read(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
        holder = at(record, entry["path"].rsplit("/", 1)[0])
        demand(digest not in seen, f"a disclosure of `{name}` stands twice")
        demand(digest in holder.get("_sd", []), f"the disclosure of {entry['path']} belongs to another record")
        demand(name not in holder and name not in ("_sd", "_sd_alg", "..."), f"`{name}` may not be disclosed here")
        seen.add(digest)
        print(f"disclosed:    {entry['path']}: {json.dumps(value, ensure_ascii=False)}")


def name_of(record):
    return hashlib.sha256(canonical({key: value for key, value in record.items() if key != "proof"})).hexdigest()


def main(words):
    demand(words, "no file named")
    data = Path(words[0]).read_bytes()
    record = read(data)
    demand(data == canonical(record), "the file is not the sealed bytes (RFC 8785)")
    print("bytes:        RFC 8785, no key twice, text in form C")
    print(f"name:         {name_of(record)}")
    # Beside this file, or where a hand-over package has it.
    places = [Path(__file__).parent / folder / "tangmark-record-1.schema.json" for folder in (".", "../schema")]
    for schema in [place for place in places if place.exists()][:1]:
        same = hashlib.sha256(schema.read_bytes()).hexdigest() == record["schema"]["digest"]
        print(f"schema:       {record['schema']['id']} {record['schema']['version']}, {'the file here' if same else 'ANOTHER file than here'}")
    check_proof(record)
    print("signature:    matches the issuer's key")
    print(f"fingerprint:  {fingerprint(point_of(record['issuer']['id']))}  (compare with the workshop's card)")
    check_input(record)
    for option, path in zip(words[1::2], words[2::2]):
        if option == "--disclosures":
            check_disclosures(record, path)
        elif option == "--previous":
            demand(name_of(read(Path(path).read_bytes())) == record["previous"], "the earlier file is not the predecessor")
            print("previous:     the file named is the predecessor")
        else:
            raise Refused(f"unknown option {option}")


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except Refused as why:
        sys.exit(f"refused:      {why}")
    except (OSError, ValueError, KeyError, TypeError, IndexError) as problem:
        sys.exit(f"refused:      not a sealed record: {type(problem).__name__}: {problem}")
