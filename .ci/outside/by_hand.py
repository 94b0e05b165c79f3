"""Runs the check of schemas/record-format.md, which needs only Python and OpenSSL, on every sealed record.

Each record must pass with the records before it, and a copy with one changed byte must not:
python by_hand.py SCHEMAS_FOLDER TOUR_FOLDER TOUR_JSON
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from common import Tally, Tour


def run(script, *arguments):
    return subprocess.run(
        [sys.executable, script, *map(str, arguments)], capture_output=True, text=True, check=False
    )


def main():
    script = Path(sys.argv[1]) / "check_record.py"
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
                copy = Path(folder) / path.name
                byte = sealed[place] + 1 if sealed[place] != 0x7A else 0x79
                copy.write_bytes(sealed[:place] + bytes([byte]) + sealed[place + 1 :])
                refused = run(script, copy)
                tally.check(refused.returncode != 0, f"{path.name}: a change at byte {place} passes")
    tally.close()


main()
