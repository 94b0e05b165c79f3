"""Checks every sealed record against the published schema and RFC 8785, with other people's code.

python schema.py SCHEMAS_FOLDER TOUR_FOLDER TOUR_JSON
"""

import copy
import hashlib
import sys
from pathlib import Path

import rfc8785
from common import Tally, Tour, at, objects, parse
from jsonschema import Draft202012Validator


def main():
    schemas, tour = Path(sys.argv[1]), Tour(*sys.argv[2:4])
    tally = Tally("schema", "jsonschema", "rfc8785")
    validators = {}
    for path in sorted(schemas.glob("*.schema.json")):
        data = path.read_bytes()
        schema = parse(data)
        tally.check(schema["$schema"] == "https://json-schema.org/draft/2020-12/schema", f"{path.name}: other draft")
        Draft202012Validator.check_schema(schema)
        tally.check(True, path.name)
        validators[path.name] = (Draft202012Validator(schema), hashlib.sha256(data).hexdigest())
    tally.check(validators, "no schema found")
    records = tour.records()
    tally.check(len(records) >= 5, f"{len(records)} records, 5 or more wanted")
    sound = refused = 0
    for _, path in records:
        data = path.read_bytes()
        record = parse(data)
        tally.check(rfc8785.dumps(record) == data, f"{path.name}: bytes are not the canonical ones")
        name = f"{record['schema']['id']}-{record['schema']['version']}.schema.json"
        if not tally.check(name in validators, f"{path.name}: no schema {name}"):
            continue
        validator, digest = validators[name]
        tally.check(record["schema"]["digest"] == digest, f"{path.name}: names another schema file")
        errors = [f"{'/'.join(map(str, e.absolute_path))}: {e.message[:200]}" for e in validator.iter_errors(record)]
        sound += tally.check(not errors, f"{path.name}: {errors[:3]}")
        # A field that the schema does not know is refused wherever it stands.
        for place in objects(record):
            twin = copy.deepcopy(record)
            at(twin, place)["zz"] = "added"
            refused += tally.check(not validator.is_valid(twin), f"{path.name}: field added to {place} passes")
        for key in ("schema", "record_id", "sequence", "previous", "issuer", "purpose", "issued_at", "blade"):
            twin = {name: value for name, value in record.items() if name != key}
            refused += tally.check(not validator.is_valid(twin), f"{path.name}: passes without {key}")
    print(f"{len(validators)} schemas, {sound} records valid and canonical, {refused} broken copies refused")
    tally.close()


main()
