"""What the outside checks share: the list of what the tour made, and counting.

Nothing here uses code of the project: the checks read only the files it hands to strangers.
"""

import hashlib
import json
import sys
from importlib.metadata import version
from pathlib import Path

import rfc8785


class Tally:
    """Counts checks; every one that fails is printed, every one that ran is counted."""

    def __init__(self, name, *packages):
        self.name, self.passed, self.failed = name, 0, 0
        print(f"{name}: " + ", ".join(f"{package} {version(package)}" for package in packages))

    def check(self, good, what):
        if good:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED: {what}")
        return bool(good)

    def close(self):
        """Prints the closing lines and ends the process."""
        print(f"count {self.name} {self.passed + self.failed}")
        print(f"{self.passed} passed, {self.failed} failed")
        sys.exit(1 if self.failed or not self.passed else 0)


class Tour:
    """What `tangmark tour DIR --json` made."""

    def __init__(self, folder, listing):
        self.folder = Path(folder)
        self.listing = json.loads(Path(listing).read_text(encoding="utf-8"))
        self.blades = self.listing["blades"]

    def path(self, name):
        """A listed path, whole or relative to the tour's folder."""
        return self.folder / name

    def records(self):
        """(blade id, path) of every sealed record, in the order of sealing."""
        return [(b["id"], self.path(p)) for b in self.blades for p in b["records"]]

    def reports(self):
        """(blade id, path) of every signed PDF."""
        return [(b["id"], self.path(p)) for b in self.blades for p in b["reports"]]

    def certificate(self):
        """The certificate to pin, as the workshop hands it out."""
        return self.path(self.listing["certificate"]).read_bytes()


def parse(data):
    """JSON of a record; a key that stands twice is an error."""

    def once(pairs):
        found = dict(pairs)
        if len(found) != len(pairs):
            raise ValueError("a key stands twice")
        return found

    return json.loads(data.decode("utf-8"), object_pairs_hook=once)


def record_name(record):
    """SHA-256 over the RFC 8785 bytes of the record without its proof."""
    unsecured = {key: value for key, value in record.items() if key != "proof"}
    return hashlib.sha256(rfc8785.dumps(unsecured)).hexdigest()


def leaves(value, path=()):
    """Paths of all scalars in a JSON value."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, index))
    else:
        yield path


def objects(value, path=()):
    """Paths of all objects in a JSON value."""
    if isinstance(value, dict):
        yield path
        for key, inner in value.items():
            yield from objects(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from objects(inner, (*path, index))


def at(value, path):
    """The value at a path."""
    for part in path:
        value = value[part]
    return value
