"""Checks the proof of every sealed record, and that changed copies are refused.

A second reading of the W3C Recommendation "Data Integrity ECDSA Cryptosuites v1.0", section 3.3
(ecdsa-jcs-2019), on rfc8785, cryptography and base58: python proof.py TOUR_FOLDER TOUR_JSON
"""

import copy
import hashlib
import sys

import base58
import rfc8785
from common import Tally, Tour, at, leaves, objects, parse, record_name
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256

# Order of the group of P-256 (NIST SP 800-186, 3.2.1.3).
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
FIELDS = {"type", "cryptosuite", "created", "verificationMethod", "proofPurpose", "proofValue"}


def refusal(record):
    """None when the proof holds, else why it does not."""
    try:
        proof = record["proof"]
        if set(proof) != FIELDS:
            return "fields of the proof"
        if (proof["type"], proof["cryptosuite"], proof["proofPurpose"]) != (
            "DataIntegrityProof",
            "ecdsa-jcs-2019",
            "assertionMethod",
        ):
            return "kind of the proof"
        issuer, _, fragment = proof["verificationMethod"].partition("#")
        if issuer != record["issuer"]["id"] or issuer != f"did:key:{fragment}":
            return "key is not the issuer's"
        if proof["created"] != record["issued_at"]:
            return "time of the proof is not the record's"
        multikey = base58.b58decode(fragment.removeprefix("z"))
        if multikey[:2] != b"\x80\x24" or len(multikey) != 35:
            return "not a compressed P-256 key"
        key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), multikey[2:])
        value = base58.b58decode(proof["proofValue"].removeprefix("z"))
        if not proof["proofValue"].startswith("z") or len(value) != 64:
            return "form of the signature"
        r, s = int.from_bytes(value[:32], "big"), int.from_bytes(value[32:], "big")
        if s > ORDER // 2:
            return "high s"
        options = {name: entry for name, entry in proof.items() if name != "proofValue"}
        unsecured = {name: entry for name, entry in record.items() if name != "proof"}
        data = b"".join(hashlib.sha256(rfc8785.dumps(part)).digest() for part in (options, unsecured))
        key.verify(encode_dss_signature(r, s), data, ec.ECDSA(SHA256()))
        return None
    except InvalidSignature:
        return "signature"
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        return f"{type(error).__name__}: {error}"


def other(value):
    """Another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return value[:-1] + ("1" if value[-1:] != "1" else "2")
    if isinstance(value, int):
        return value + 1
    return "1"


def changed(record, path):
    """A copy with the value at a path changed."""
    twin = copy.deepcopy(record)
    at(twin, path[:-1])[path[-1]] = other(at(twin, path))
    return twin


def main():
    tour = Tour(*sys.argv[1:3])
    tally = Tally("proof-py", "rfc8785", "cryptography", "base58")
    records = [(blade, path, parse(path.read_bytes())) for blade, path in tour.records()]
    tally.check(len(records) >= 5, f"{len(records)} records, 5 or more wanted")
    for blade, path, record in records:
        why = refusal(record)
        tally.check(why is None, f"{path.name}: refused: {why}")
    good = tally.passed

    # The chain: each record of a blade names the one before it, from the first on.
    for entry in tour.blades:
        before = None
        for number, (_, path, record) in enumerate([r for r in records if r[0] == entry["id"]], start=1):
            tally.check(record["previous"] == before, f"{path.name}: names another record before it")
            tally.check(record["sequence"] == number, f"{path.name}: sequence {record['sequence']}, {number} wanted")
            before = record_name(record)
    chained = tally.passed - good

    for index, (_, path, record) in enumerate(records):
        for place in leaves(record):
            tally.check(refusal(changed(record, place)), f"{path.name}: accepted with {place} changed")
        for place in objects(record):
            twin = copy.deepcopy(record)
            at(twin, place)["zz"] = "added"
            tally.check(refusal(twin), f"{path.name}: accepted with a field added to {place}")
        for name in record:
            twin = {key: value for key, value in record.items() if key != name}
            tally.check(refusal(twin), f"{path.name}: accepted without {name}")
        twin = copy.deepcopy(record)
        twin["proof"]["proofValue"] = records[index - 1][2]["proof"]["proofValue"]
        tally.check(refusal(twin), f"{path.name}: accepted with another record's signature")
        twin["proof"] = [copy.deepcopy(record["proof"])]
        tally.check(refusal(twin), f"{path.name}: accepted with a list of proofs")
        twin = copy.deepcopy(record)
        value = base58.b58decode(record["proof"]["proofValue"][1:])
        high = ORDER - int.from_bytes(value[32:], "big")
        twin["proof"]["proofValue"] = "z" + base58.b58encode(value[:32] + high.to_bytes(32, "big")).decode()
        tally.check(refusal(twin) == "high s", f"{path.name}: twin of the signature with high s")
        tally.check(record_name(twin) == record_name(record), f"{path.name}: the twin bears another name")
        # Another key, everything consistent but the signature.
        stranger = ec.generate_private_key(ec.SECP256R1()).public_key().public_numbers()
        point = bytes([2 + stranger.y % 2]) + stranger.x.to_bytes(32, "big")
        multikey = "z" + base58.b58encode(b"\x80\x24" + point).decode()
        twin = copy.deepcopy(record)
        twin["issuer"]["id"] = f"did:key:{multikey}"
        twin["proof"]["verificationMethod"] = f"did:key:{multikey}#{multikey}"
        tally.check(refusal(twin) == "signature", f"{path.name}: accepted under another key")
    print(f"{len(records)} proofs hold, {chained} links of chains, {tally.passed - good - chained} changed copies refused")
    tally.close()


main()
