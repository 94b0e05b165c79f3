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


def plain(text):
    """What files say is shown with control and invisible signs by number, so that no terminal obeys them."""
    hidden = ("Cc", "Cf", "Cs", "Zl", "Zp")
    return "".join(f"U+{ord(sign):04X}" if unicodedata.category(sign) in hidden else sign for sign in text)


def say(text):
    print(plain(text))


# Strict JSON ----------------------------------------------------------------

LONGEST = 16 * 1024 * 1024
DEEPEST = 32
MOST_VALUES = 200_000
LARGEST = 2**53 - 1


def whole(text):
    """A whole number as records have it: no needless sign, within 2^53 - 1."""
    demand(text != "-0", "the number -0 has a needless sign")
    demand(len(text) <= 17 and abs(int(text)) <= LARGEST, f"the number {text[:40]} is beyond 2^53 - 1")
    return int(text)


def check_text(text):
    demand(unicodedata.is_normalized("NFC", text), "text outside Unicode form C")
    for letter in map(ord, text):
        demand(letter != 0, "U+0000 in a text")
        demand(not 0xD800 <= letter <= 0xDFFF, "a lone surrogate in a text")
        demand(letter & 0xFFFE != 0xFFFE and not 0xFDD0 <= letter <= 0xFDEF, f"the noncharacter U+{letter:04X} in a text")


def check_value(value, depth=0):
    """Counts the values, and looks at every text and at how deep they lie."""
    if isinstance(value, str):
        check_text(value)
    if not isinstance(value, (dict, list)):
        return 1
    demand(depth < DEEPEST, f"more than {DEEPEST} levels")
    for name in value if isinstance(value, dict) else ():
        check_text(name)
    return 1 + sum(check_value(one, depth + 1) for one in (value.values() if isinstance(value, dict) else value))


def read(data):
    """One JSON value: no key twice, whole numbers only, all text in form C."""

    def members(pairs):
        names = [name for name, _ in pairs]
        demand(len(names) == len(set(names)), f"a key stands twice among {names}")
        return dict(pairs)

    def refuse(text):
        raise Refused(f"the number {text} is not a whole number")

    demand(len(data) <= LONGEST, f"{len(data)} bytes, at most {LONGEST} are allowed")
    text = data.decode("utf-8")
    found = json.loads(text, object_pairs_hook=members, parse_int=whole, parse_float=refuse, parse_constant=refuse)
    demand(check_value(found) <= MOST_VALUES, f"more than {MOST_VALUES} values")
    return found


def canonical(value):
    """RFC 8785 for values without fractions and with keys of plain ASCII, as records are."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode("utf-8")


# The key --------------------------------------------------------------------

# Keys whose private halves are printed in specifications: everybody can sign with them.
PRINTED = {
    "zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP",
    "zDnaerDaTF5BXEavCrfRZEk316dpbLsfPDZ3WJ5hRTPFU2169",
    "zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv",
}


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
    demand(did[len("did:key:"):] not in PRINTED, "the private half of the issuer's key is printed in a specification")

    options = {name: value for name, value in proof.items() if name != "proofValue"}
    document = {name: value for name, value in record.items() if name != "proof"}
    signed = hashlib.sha256(canonical(options)).digest() + hashlib.sha256(canonical(document)).digest()
    demand(proof["proofValue"].startswith("z"), "the signature is not multibase base58btc")
    signature = base58(proof["proofValue"][1:])
    demand(len(signature) == 64, f"the signature has {len(signature)} bytes instead of 64")
    r, s = int.from_bytes(signature[:32], "big"), int.from_bytes(signature[32:], "big")
    demand(0 < r < ORDER and 0 < s < ORDER, "r or s is out of range")
    demand(s <= ORDER // 2, "the same content, not the sealed bytes: signers write the lower s")

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
        say("input:        not recomputed: it needs the names of all earlier records")
        return
    sheet = {name: value for name, value in record.items() if name not in BESIDE_THE_SHEET}
    history = [record["previous"]] if record["previous"] else []
    asked = {"history": history, "now": record["issued_at"], "sheet": sheet}
    digest = hashlib.sha256(canonical(asked)).hexdigest()
    for run in record.get("runs", []):
        demand(run["input"] == digest, f"the plugin {run['plugin']} was asked about something else")
    say(f"input:        {digest}, the same for {len(record.get('runs', []))} runs")


def parts_of(pointer):
    """The parts of a JSON Pointer (RFC 6901)."""
    demand(pointer.startswith("/"), f"`{pointer}` is no path in a record")
    return [part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:]]


def at(value, parts):
    for part in parts:
        if isinstance(value, list):
            demand(part.isascii() and part.isdigit() and part == str(int(part)), f"`{part}` is no place in a list")
        value = value[int(part)] if isinstance(value, list) else value[part]
    return value


def base64url(text):
    """Without padding and without letters that do not belong to it, which Python would pass over."""
    raw = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    demand(base64.urlsafe_b64encode(raw).decode().rstrip("=") == text, "a text that is no base64url")
    return raw


def check_disclosures(record, path):
    listed = read(Path(path).read_bytes())
    demand(isinstance(listed, dict) and set(listed) == {"format", "disclosures"}, "no file of disclosures")
    demand(listed["format"] == "tangmark disclosures 1", "no file of disclosures")
    seen, salts = set(), set()
    for entry in listed["disclosures"]:
        demand(set(entry) == {"path", "disclosure"}, f"a disclosure has the fields {sorted(entry)}")
        text = entry["disclosure"]
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode("ascii")).digest()).decode().rstrip("=")
        opened = read(base64url(text))
        demand(isinstance(opened, list) and len(opened) == 3, f"the disclosure of {entry['path']} is no salt, name and value")
        salt, name, value = opened
        *place, last = parts_of(entry["path"])
        demand(name == last, f"the disclosure of {entry['path']} is one of `{name}`")
        demand(len(base64url(salt)) == 16, f"the salt of {entry['path']} has not 16 bytes")
        holder = at(record, place)
        demand(digest not in seen, f"a disclosure of `{name}` stands twice")
        demand(salt not in salts, f"the salt of {entry['path']} is that of another disclosure")
        demand(digest in holder.get("_sd", []), f"the disclosure of {entry['path']} belongs to another record")
        demand(name not in holder and name not in ("_sd", "_sd_alg", "..."), f"`{name}` may not be disclosed here")
        seen.add(digest)
        salts.add(salt)
        say(f"disclosed:    {entry['path']}: {json.dumps(value, ensure_ascii=False)}")


# The chain --------------------------------------------------------------------


def check_previous(record, path):
    earlier = read(Path(path).read_bytes())
    demand(name_of(earlier) == record["previous"], "the earlier file is not the predecessor")
    demand(earlier["sequence"] + 1 == record["sequence"], f"record {record['sequence']} after record {earlier['sequence']}")
    demand(earlier["blade"]["id"] == record["blade"]["id"], "the earlier record is about another blade")
    demand(earlier["issued_at"] <= record["issued_at"], "the earlier record has a later time")
    say("previous:     the file named is the predecessor")


def name_of(record):
    return hashlib.sha256(canonical({key: value for key, value in record.items() if key != "proof"})).hexdigest()


OPTIONS = {"--disclosures": check_disclosures, "--previous": check_previous}


def orders(words):
    """The record's file, and each option with its file. Nothing is passed over: what is not understood was not checked."""
    demand(words and not words[0].startswith("--"), "no record named; " + __doc__.split("\n\n")[1])
    rest, asked = words[1:], []
    while rest:
        option, *rest = rest
        demand(option in OPTIONS, f"`{option}` is no option; {' and '.join(OPTIONS)} are, each with a file")
        demand(option not in [known for known, _ in asked], f"{option} stands twice")
        demand(rest and not rest[0].startswith("--"), f"{option} needs a file")
        asked.append((option, rest.pop(0)))
    return words[0], asked


def main(words):
    file, asked = orders(words)
    data = Path(file).read_bytes()
    record = read(data)
    demand(isinstance(record, dict), "the value is no object")
    demand(data == canonical(record), "the file is not the sealed bytes (RFC 8785)")
    say("bytes:        RFC 8785, no key twice, text in form C")
    say(f"name:         {name_of(record)}")
    check_proof(record)
    say("signature:    matches the issuer's key")
    say(f"fingerprint:  {fingerprint(point_of(record['issuer']['id']))}  (compare with the workshop's card)")
    # Beside this file, or where a hand-over package has it.
    places = [Path(__file__).parent / folder / "tangmark-record-1.schema.json" for folder in (".", "../schema")]
    for schema in [place for place in places if place.exists()][:1]:
        same = hashlib.sha256(schema.read_bytes()).hexdigest() == record["schema"]["digest"]
        demand(same, "the signature holds, but the record names ANOTHER schema file than the one here: what it says cannot be read by it")
        say(f"schema:       {record['schema']['id']} {record['schema']['version']}, the file here")
    check_input(record)
    for option, path in asked:
        OPTIONS[option](record, path)


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except Refused as why:
        sys.exit(plain(f"refused:      {why}"))
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError) as problem:
        sys.exit(plain(f"refused:      not a sealed record: {type(problem).__name__}: {problem}"))
