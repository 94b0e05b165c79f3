"""Verification without a network and twenty years later: the same words and exit codes as today.

The release binary runs in a network namespace of its own (`unshare`), where nothing can be reached, and with the
clock at 2046 (`faketime`, from Debian). That both hold is checked first: the namespace has no way out, and a clock
set before the record was sealed is noticed.
python offline.py TANGMARK TOUR_FOLDER TOUR_JSON
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from authority import Authority
from common import Tally, Tour, parse, record_name

LATER = "2046-06-01 12:00:00"
BEFORE = "2001-06-01 12:00:00"
# Root makes the namespace as itself; anybody else becomes root inside it.
UNSHARE = ["unshare", "-n"] if os.geteuid() == 0 else ["unshare", "-r", "-n"]

REACH = """
import socket, sys
for family, address in ((socket.AF_INET, ("192.0.2.1", 80)), (socket.AF_INET, ("127.0.0.1", 80)), (socket.AF_INET6, ("2001:db8::1", 80))):
    try:
        socket.create_connection(address, timeout=2)
        sys.exit(0)
    except OSError as error:
        print(error.errno)
sys.exit(9)
"""


def run(words, home):
    """Exit code and what was printed."""
    environment = dict(os.environ, HOME=str(home), XDG_DATA_HOME=str(home / "data"), TZ="UTC")
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False, env=environment)
    return done.returncode, done.stdout


def apart(words, time):
    """The words that run a command in a namespace of its own, at a time of its own."""
    return [*UNSHARE, "faketime", time, *words]


def read(out):
    """What was said as JSON; what was printed where it is none."""
    try:
        return json.loads(out)
    except ValueError:
        return out


def files(tour):
    """(what, path) of every record, report and package that the tour made."""
    yield from (("record", path) for _, path in tour.records())
    yield from (("report", path) for _, path in tour.reports())
    handover = tour.listing.get("handover") or {}
    yield from (("package", tour.path(handover[form])) for form in ("folder", "zip") if form in handover)


def stamped(tally, binary, tour, home):
    """(what, words) of a record and a report with time evidence. The authority's certificates end after 30 days: in 2046 they have
    long ended, and the token says as much as today."""
    authority = Authority(home, "harbour", "P-256")
    trust = ["--authority", authority.at("root.pem")]
    question, answer = home / "record.tsq", home / "record.tsr"
    record = tour.records()[0][1]
    authority.openssl("ts", "-query", "-digest", record_name(parse(record.read_bytes())), "-sha256", "-cert", "-out", question)
    authority.stamp(question, answer)
    yield "stamped record", [record, "--timestamp", answer, *trust]
    report = tour.reports()[0][1]
    question, answer, timed = (home / f"report.{end}" for end in ("tsq", "tsr", "pdf"))
    code, out = run([binary, "time", "request", "--pdf", report, "--out", question], home)
    tally.check(code == 0, f"{report}: no question for the authority: {out}")
    authority.stamp(question, answer)
    code, out = run([binary, "time", "add", "--pdf", report, answer, "--request", question, "--out", timed], home)
    tally.check(code == 0, f"{report}: the answer does not go in: {out}")
    yield "stamped report", [timed, *trust]


def time_state(said):
    """The state of the line of time in a verdict, wherever it stands."""
    if isinstance(said, dict):
        if isinstance(said.get("time"), dict) and "state" in said["time"]:
            return said["time"]["state"]
        said = list(said.values())
    if isinstance(said, list):
        return next((found for found in map(time_state, said) if found), None)
    return None


def main(binary, folder, listing):
    tally = Tally("offline")
    tour = Tour(folder, listing)
    with tempfile.TemporaryDirectory() as scratch:
        home = Path(scratch)
        code, out = run(apart([sys.executable, "-c", REACH], LATER), home)
        tally.check(code == 9, f"the namespace has a way out: {code} {out}")
        code, out = run(apart(["date", "+%Y"], LATER), home)
        tally.check(out.strip() == "2046", f"the clock says {out.strip()}")
        kinds = set()
        for what, path in files(tour):
            order = [binary, "verify", path, "--json", "--no-remember"]
            code, out = run(order, home)
            later_code, later_out = run(apart(order, LATER), home)
            same = tally.check(code == later_code, f"{path}: exit {code} today, {later_code} offline in 2046")
            tally.check(read(out) == read(later_out), f"{path}: other words offline in 2046")
            tally.check(code in (0, 2), f"{path}: exit {code}")
            if what not in kinds and same:
                # One of each kind: the clock that the binary sees is the one that was set.
                _, early = run(apart(order, BEFORE), home)
                tally.check(time_state(read(early)) in ("future", "in_future"), f"{path}: in 2001 the time is not told as one to come")
            kinds.add(what)
            # Changed bytes are told there too.
            if Path(path).is_file():
                changed = home / f"changed{Path(path).suffix}"
                data = bytearray(Path(path).read_bytes())
                data[len(data) // 2] ^= 1
                changed.write_bytes(bytes(data))
                code, _ = run(apart([binary, "verify", changed, "--json", "--no-remember"], LATER), home)
                tally.check(code in (1, 3), f"{path} changed: exit {code} offline in 2046")
        for what, words in stamped(tally, binary, tour, home):
            order = [binary, "verify", *words, "--json", "--no-remember"]
            code, out = run(order, home)
            later_code, later_out = run(apart(order, LATER), home)
            tally.check((code, read(out)) == (later_code, read(later_out)), f"{what}: other words offline in 2046")
            for year, said in (("today", read(out)), ("in 2046", read(later_out))):
                tally.check(time_state(said) == "not_later_than" and '"trusted"' in json.dumps(said), f"{what}: {year} the evidence is not heard: {said}")
            kinds.add(what)
        tally.check({"record", "report", "package", "stamped record", "stamped report"} <= kinds, f"only {sorted(kinds)} were there")
    tally.close()


if __name__ == "__main__":
    main(*sys.argv[1:4])
