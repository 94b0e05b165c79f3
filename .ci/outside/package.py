"""Hands a hand-over package to other people's tools, and tries to get out of it what is withheld.

`bagit`, zipfile, unzip, every command of HOW-TO-CHECK.txt from inside the package, a search for every withheld value in
every byte (also inflated), and a search for prices by their digests:
python package.py TANGMARK TOUR_FOLDER TOUR_JSON
"""

import base64
import hashlib
import json
import logging
import os
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import bagit
import pikepdf
import rfc8785
from common import Tally, Tour, parse

# What bagit says of packages that are broken on purpose is counted, not printed.
logging.getLogger("bagit").setLevel(logging.CRITICAL)

PASSPHRASE = "tour"
CURRENCIES = ["EUR", "USD", "GBP", "JPY", "CHF"]
SIGNS = {"EUR": "€", "USD": "$", "GBP": "£", "JPY": "¥", "CHF": "Fr."}
HIGHEST_PRICE = 100_000


class Bench:
    """The program on a copy of the tour's workshop, with a home of its own."""

    def __init__(self, binary, tour, folder):
        self.binary, self.folder = Path(binary).resolve(), Path(folder)
        self.workshop = self.folder / "workshop"
        shutil.copytree(tour, self.workshop)
        (self.folder / "pass.txt").write_text(PASSPHRASE + "\n")
        self.env = {"PATH": os.environ["PATH"], "HOME": str(self.folder / "home")}

    def run(self, *words, cwd=None):
        words = [str(self.binary), *map(str, words)]
        return subprocess.run(words, cwd=cwd or self.folder, env=self.env, capture_output=True, text=True, check=False)

    def package(self, out, *words):
        done = self.run("--workshop", self.workshop, "handover", "reed", "--out", out, "--passphrase-file", "pass.txt", *words)
        if done.returncode != 0:
            raise SystemExit(f"no package: {done.stderr}")
        return self.folder / out

    def verdict(self, package):
        """Our exit code and answer, as a stranger's."""
        done = self.run("verify", package, "--json", "--no-remember")
        return done.returncode, json.loads(done.stdout) if done.stdout else {}


# What stands beside the picture in a photo: Exif (place, serial numbers, thumbnail), XMP, comments.
BESIDE = [b"Exif\0\0", b"http://ns.adobe.com/", b"xmpmeta", b"GPS"]


def photos(tally, bench, folder):
    """Photos carry nothing beside the picture, unless the originals are asked for."""
    for path in files(folder):
        if path.suffix in (".jpg", ".pdf"):
            found = [mark for mark in BESIDE[:2] if mark in path.read_bytes() and path.suffix == ".jpg"]
            tally.check(not found, f"{path.name} carries {found}")
    originals = bench.package("originals", "--photos", "originals", "--report", "none")
    marks = [mark for path in (originals / "data/photos").iterdir() for mark in BESIDE if mark in path.read_bytes()]
    tally.check(b"Exif\0\0" in marks, "no original of the demo carries anything, so nothing was tried")


def files(folder):
    return sorted(path for path in folder.rglob("*") if path.is_file())


def bags(tally, folder):
    """What `bagit` says of the folder; its way of saying no is an exception."""
    bag = bagit.Bag(str(folder))
    tally.check(bag.version == "1.0" or bag.version_info == (1, 0), f"bag version {bag.version}")
    try:
        return bag.is_valid()
    except (bagit.BagError, UnicodeDecodeError, ValueError):
        return False


def still_a_bag(folder):
    try:
        return bagit.Bag(str(folder)).is_valid()
    except (bagit.BagError, UnicodeDecodeError, ValueError):
        return False


def commands(folder):
    """The commands of HOW-TO-CHECK.txt."""
    text = (folder / "data/HOW-TO-CHECK.txt").read_text(encoding="utf-8")
    return [line[2:] for line in text.splitlines() if line.startswith("$ ")], text


def shell(command, folder):
    return subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, text=True, check=False)


def by_hand(tally, folder):
    """Every command holds, says what it should, and finds a changed record."""
    found, text = commands(folder)
    records = sorted((folder / "data/records").iterdir())
    tools = {tool: [one for one in found if tool in one] for tool in ("sha256sum", "check_record.py", "check_record.mjs", "openssl ts")}
    tally.check(len(tools["sha256sum"]) == 1, "one command for the manifests")
    for tool in ("check_record.py", "check_record.mjs"):
        tally.check(len(tools[tool]) == len(records), f"{tool} for each of {len(records)} records")
    for command in found:
        done = shell(command, folder)
        tally.check(done.returncode == 0, f"`{command}`: {done.stdout} {done.stderr}")
        if "check_record" in command:
            for words in ("signature:    matches the issuer's key", "fingerprint:  ", "schema:       tangmark-record 1, the file here"):
                tally.check(words in done.stdout, f"`{command}` does not say `{words}`")
            fingerprint = re.search(r"fingerprint:  (\S+)", done.stdout)
            tally.check(fingerprint and fingerprint.group(1) in text, f"`{command}`: its fingerprint stands in the page")
    # Both tools say the same, line for line.
    for one, other in zip(tools["check_record.py"], tools["check_record.mjs"]):
        said = [[line for line in shell(c, folder).stdout.splitlines() if not line.startswith("disclosed:")] for c in (one, other)]
        tally.check(said[0] == said[1], f"{said[0]} and {said[1]}")
    for line in text.splitlines():
        if line.startswith("  pdfsig "):
            done = shell(line.strip(), folder)
            tally.check("Signature is Valid." in done.stdout, f"`{line.strip()}`: {done.stdout}")
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "package"
        shutil.copytree(folder, copy)
        record = copy / "data/records" / records[-1].name
        sealed = record.read_bytes()
        at = sealed.index(b'"text"') + 9
        record.write_bytes(sealed[:at] + bytes([sealed[at] ^ 1]) + sealed[at + 1 :])
        for command in (*tools["sha256sum"], tools["check_record.py"][-1], tools["check_record.mjs"][-1]):
            tally.check(shell(command, copy).returncode != 0, f"`{command}` passes a changed record")
    return found


def zipped(tally, package, folder, place):
    """Other programs read the zip file, and find what the folder holds."""
    with zipfile.ZipFile(package) as opened:
        tally.check(opened.testzip() is None, "zipfile finds a fault")
        tally.check(all(entry.compress_type == zipfile.ZIP_STORED for entry in opened.infolist()), "an entry is not stored")
        tally.check(opened.comment == b"", "the zip file has a comment")
        opened.extractall(place)
    tops = list(place.iterdir())
    tally.check(len(tops) == 1, f"one top folder: {tops}")
    ours = {path.relative_to(folder): path.read_bytes() for path in files(folder)}
    theirs = {path.relative_to(tops[0]): path.read_bytes() for path in files(tops[0])}
    tally.check(ours == theirs, "the zip file holds other files than the folder")
    if shutil.which("unzip"):
        done = subprocess.run(["unzip", "-tqq", package], capture_output=True, text=True, check=False)
        tally.check(done.returncode == 0, f"unzip: {done.stdout} {done.stderr}")


# What is withheld ------------------------------------------------------------


def texts(value):
    """Every text in a JSON value."""
    if isinstance(value, dict):
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)
    elif isinstance(value, str):
        yield value


def opened(folder):
    """(disclosure, salt, name, value) of every disclosure in a package."""
    for path in sorted((folder / "data/disclosures").glob("*.json")):
        for entry in parse(path.read_bytes())["disclosures"]:
            text = entry["disclosure"]
            yield text, *json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))


def bodies(folder):
    """Everything a package holds: (where, bytes), also file names, inflated streams and the words on pages."""
    for path in files(folder):
        name = str(path.relative_to(folder))
        yield f"name of {name}", name.encode()
        yield name, path.read_bytes()
        if path.suffix != ".pdf":
            continue
        with pikepdf.open(path) as pdf:
            for number, thing in enumerate(pdf.objects):
                if isinstance(thing, pikepdf.Stream):
                    try:
                        yield f"{name}, stream {number}", thing.read_bytes()
                    except pikepdf.PdfError:
                        yield f"{name}, stream {number} as it is", thing.read_raw_bytes()
                else:
                    yield f"{name}, object {number}", bytes(repr(thing), "utf-8")
        words = subprocess.run(["pdftotext", "-raw", path, "-"], capture_output=True, check=True).stdout
        yield f"{name}, words", words
        yield f"{name}, words joined", b" ".join(words.split())


def spellings(text):
    """A text as it may stand in a file."""
    yield text.encode("utf-8")
    yield text.encode("utf-16-be")
    yield text.encode("utf-16-le")
    yield json.dumps(text)[1:-1].encode("ascii")
    yield base64.b64encode(text.encode("utf-8")).rstrip(b"=")[: len(text) * 4 // 3]
    if text.isascii():
        yield text.encode("ascii").hex().encode("ascii")


def secrets(tally, folder, shown):
    """Texts that only the withheld values hold: what records, pages and tools say in clear is left out, and counted."""
    public = b"\n".join(path.read_bytes() for path in files(folder) if path.suffix in (".md", ".py", ".mjs", ".html"))
    clear = set()
    for path in (folder / "data/records").iterdir():
        clear.update(texts(parse(path.read_bytes())))
    wanted, left_out = set(), set()
    for disclosure, salt, _, value in opened(shown):
        # Whoever had these two could open the value.
        wanted.update((disclosure, salt))
        for text in texts(value):
            # Shorter ones, such as `EUR` or `info`, stand in any text.
            if len(text) < 6 or text.isdigit() and len(text) < 7:
                continue
            if text in clear or any(text in other for other in clear) or text.encode() in public:
                left_out.add(text)
            else:
                wanted.add(text)
    tally.check(len(wanted) > 40, f"only {len(wanted)} withheld texts are looked for")
    print(f"withheld texts looked for: {len(wanted)}; {len(left_out)} stand elsewhere in clear")
    return wanted


def amounts(value):
    """(amount, currency) of every price in a JSON value."""
    if isinstance(value, dict):
        if isinstance(value.get("amount"), str) and isinstance(value.get("currency"), str):
            yield value["amount"], value["currency"]
        for inner in value.values():
            yield from amounts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from amounts(inner)


def price_spellings(amount, currency):
    """A price as a page, a record or a name of a file would write it; its digits alone may stand anywhere."""
    written = {amount}
    if amount.isdigit():
        grouped = f"{int(amount):,}"
        written.update((f"{amount}.00", f"{amount},00", grouped, f"{grouped}.00", grouped.replace(",", "."), grouped.replace(",", " "), grouped.replace(",", "\u202f")))
    for text in written:
        for between in ("", " ", "\u00a0", "\u202f"):
            yield f"{text}{between}{currency}"
            yield f"{currency}{between}{text}"
            yield f"{SIGNS.get(currency, currency)}{between}{text}"
            yield f"{text}{between}{SIGNS.get(currency, currency)}"
    yield f'"amount":"{amount}"'
    yield f'"amount": "{amount}"'
    yield f"price-{amount}"
    yield f"price_{amount}"


def prices_in_clear(tally, folder, shown):
    """No withheld price stands anywhere in the package as somebody would write it; where it is shown, the search meets it."""
    withheld = {price for _, _, _, value in opened(shown) for price in amounts(value)}
    clear = {price for path in (folder / "data/records").iterdir() for price in amounts(parse(path.read_bytes()))}
    tally.check(len(withheld) >= 2 and not withheld & clear, f"{len(withheld)} prices are withheld, {len(withheld & clear)} of them stand in clear")
    # As text of UTF-8 or of JSON, and of UTF-16 as strings of a PDF may hold it.
    forms = [(price, form) for price in withheld for text in set(price_spellings(*price)) for form in (text.encode(), json.dumps(text)[1:-1].encode(), text.encode("utf-16-be"))]

    def met(package):
        for where, body in bodies(package):
            yield from ((where, price) for price, form in forms if form in body)

    found = sorted(set(met(folder)))
    tally.check(not found, f"prices stand in the package: {found[:5]}")
    there = {price for _, price in met(shown)}
    tally.check(len(there) >= 2, f"the search meets {len(there)} prices where they are shown")
    print(f"prices looked for in clear: {len(withheld)}, in {len(forms)} spellings")


def same_records(tally, one, other):
    """Whatever is shown to a receiver, the records are the same bytes."""
    ours, theirs = ({path.name: path.read_bytes() for path in (folder / "data/records").iterdir()} for folder in (one, other))
    tally.check(len(ours) > 1 and ours == theirs, "two packages of one blade hold other bytes of a record")


def search(folder, wanted):
    """(where, text) of every withheld text that stands anywhere in the package."""
    forms = [(text, form) for text in wanted for form in set(spellings(text)) if len(form) >= 6]
    found = []
    for where, body in bodies(folder):
        found.extend((where, text) for text, form in forms if form in body)
    return found


def digests(folder):
    """Every digest in the package, in whatever spelling, as 32 bytes."""
    found = set()
    for path in files(folder):
        body = path.read_bytes()
        for text in re.findall(rb"(?<![0-9a-fA-F])[0-9a-fA-F]{64}(?![0-9a-fA-F])", body):
            found.add(bytes.fromhex(text.decode()))
        for text in re.findall(rb"(?<![\w-])[\w-]{43}(?![\w-])", body):
            try:
                found.add(base64.urlsafe_b64decode(text + b"="))
            except ValueError:
                continue
    return {digest for digest in found if len(digest) == 32}


def price_guesses(number):
    """One price in the usual spellings, as somebody would hash it who did not salt."""
    grouped = f"{number:,}"
    amounts = {str(number), f"{number}.00", grouped, grouped.replace(",", "."), grouped.replace(",", " ")}
    for amount in amounts:
        yield amount
        yield f'"{amount}"'
    plain = str(number)
    for currency in CURRENCIES:
        for amount in amounts:
            yield f"{amount} {currency}"
            yield f"{currency} {amount}"
        yield f"{SIGNS[currency]}{plain}"
        yield f"{plain} {SIGNS[currency]}"
        value = f'{{"amount":"{plain}","currency":"{currency}"}}'
        yield value
        for name in ("price", "insured_value", "price_ceiling"):
            yield f'["{name}",{value}]'
            yield f'["","{name}",{value}]'
            yield f'{{"{name}":{value}}}'


def guessed(wanted):
    """Prices whose guess has one of the digests."""
    found = set()
    sha256 = hashlib.sha256
    for number in range(HIGHEST_PRICE + 1):
        for guess in price_guesses(number):
            if sha256(guess.encode()).digest() in wanted:
                found.add(number)
    return found


def prices(tally, folder, shown):
    """No price can be guessed from a digest; one that is not salted could be."""
    known = digests(folder)
    withheld = [value for _, _, name, value in opened(shown) if isinstance(value, dict) and "amount" in value]
    tally.check(len(withheld) >= 2, f"{len(withheld)} prices are withheld")
    tally.check(len(known) > 50, f"{len(known)} digests in the package")
    # In one pass: the digests of the package, and that of a price as it would be without a salt.
    bare = {hashlib.sha256(rfc8785.dumps(value)).digest(): int(value["amount"]) for value in withheld if value["amount"].isdigit()}
    tally.check(bool(bare), "a price in whole numbers is withheld")
    tally.check(not known & set(bare), "an unsalted digest of a price is in the package")
    found = guessed(known | set(bare))
    tally.check(set(bare.values()) <= found, f"the search finds {sorted(found)}, not the unsalted {sorted(bare.values())}")
    tally.check(found == set(bare.values()), f"prices are found by their digests: {sorted(found - set(bare.values()))}")
    print(f"prices tried: 0 to {HIGHEST_PRICE}, {sum(1 for _ in price_guesses(1234))} spellings each, {len(known)} digests")


# Changes ---------------------------------------------------------------------


def changes(tally, bench, folder, package):
    """One byte changed in each file, one file less, one more: bagit and ours both notice."""
    for path in files(folder):
        whole = path.read_bytes()
        at = len(whole) * 2 // 3
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x04]) + whole[at + 1 :])
        name = path.relative_to(folder)
        tally.check(not still_a_bag(folder), f"bagit passes a change in {name}")
        code, _ = bench.verdict(folder)
        tally.check(code == 1, f"ours ends with {code} after a change in {name}")
        path.write_bytes(whole)
    photo = next(iter((folder / "data/photos").iterdir()))
    aside = bench.folder / photo.name
    photo.rename(aside)
    tally.check(not still_a_bag(folder), "bagit passes a missing photo")
    tally.check(bench.verdict(folder)[0] == 3, "ours passes a missing photo")
    aside.rename(photo)
    extra = folder / "data/more.txt"
    extra.write_text("more")
    tally.check(not still_a_bag(folder), "bagit passes one file more")
    code, verdict = bench.verdict(folder)
    tally.check(code == 2 and "data/more.txt" in verdict["bag"]["unlisted"], f"ours: {code}, one file more is not told")
    extra.unlink()
    whole = package.read_bytes()
    for at in range(len(whole) // 40, len(whole), len(whole) // 20):
        changed = bench.folder / "changed.zip"
        changed.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        tally.check(bench.verdict(changed)[0] == 1, f"ours passes a change at byte {at} of the zip file")


# Time evidence ---------------------------------------------------------------

AUTHORITY = """
[req]
distinguished_name = name
prompt = no
[name]
CN = Harbour Clock (throw-away)
[ca]
basicConstraints = critical,CA:TRUE
keyUsage = critical,keyCertSign
[stamp]
basicConstraints = critical,CA:FALSE
extendedKeyUsage = critical,timeStamping
[tsa]
default_tsa = here
[here]
serial = serial
digests = sha256
signer_digest = sha256
default_policy = 1.2.3.4
accuracy = secs:1
ess_cert_id_chain = no
ess_cert_id_alg = sha256
"""


def stamped(tally, bench):
    """A package with time evidence of a throw-away authority: OpenSSL takes it by the command in the package."""
    place = bench.folder / "authority"
    place.mkdir()
    (place / "openssl.cnf").write_text(AUTHORITY)
    (place / "serial").write_text("01\n")

    def openssl(*words):
        done = subprocess.run(["openssl", *words], cwd=place, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit(f"openssl {' '.join(words)}: {done.stderr}")

    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
    openssl("req", "-x509", *key, "-keyout", "ca.key", "-out", "ca.pem", "-days", "30", "-config", "openssl.cnf", "-extensions", "ca")
    openssl("req", *key, "-keyout", "tsa.key", "-out", "tsa.csr", "-config", "openssl.cnf")
    openssl("x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-out", "tsa.pem",
            "-days", "30", "-extfile", "openssl.cnf", "-extensions", "stamp")
    of = ["--workshop", bench.workshop, "time"]
    for words in (
        [*of, "authority", "add", "harbour", "--certificate", place / "ca.pem"],
        [*of, "request", "reed", "--out", place / "reed.tsq"],
    ):
        done = bench.run(*words)
        tally.check(done.returncode == 0, f"{words[2:]}: {done.stderr}")
    openssl("ts", "-reply", "-queryfile", "reed.tsq", "-signer", "tsa.pem", "-inkey", "tsa.key", "-out", "reed.tsr", "-config", "openssl.cnf")
    done = bench.run(*of, "add", "reed", place / "reed.tsr")
    tally.check(done.returncode == 0, f"time add: {done.stderr}")
    folder = bench.package("stamped")
    tally.check(len(list((folder / "data/timestamps").glob("*.tsr"))) == 1, "the token is in the package")
    found = by_hand(tally, folder)
    tally.check(any("openssl ts -verify" in command for command in found), "no command for the token")
    code, verdict = bench.verdict(folder)
    states = [one["state"] for one in verdict["timestamps"].values()]
    tally.check(states == ["fits"], f"ours: {code} {states}")
    stranger = next(one for one in found if "openssl ts" in one)
    other = re.sub(r"-digest (\w)", lambda match: f"-digest {'0' if match.group(1) != '0' else '1'}", stranger)
    tally.check(shell(other, folder).returncode != 0, "OpenSSL takes the token for another record")


def main():
    binary, tour = sys.argv[1], Tour(sys.argv[2], sys.argv[3])
    tally = Tally("package", "bagit", "pikepdf", "rfc8785")
    made = tour.listing["handover"]
    folder, package = tour.path(made["folder"]), tour.path(made["zip"])
    with tempfile.TemporaryDirectory() as place:
        place = Path(place)
        bench = Bench(binary, tour.folder, place)
        copy = place / "package"
        shutil.copytree(folder, copy)
        tally.check(bags(tally, copy), "bagit does not take the folder")
        zipped(tally, package, copy, place / "unpacked")
        by_hand(tally, copy)
        shown = bench.package("shown", "--reveal", "all")
        tally.check(bags(tally, shown), "bagit does not take a package with shown values")
        by_hand(tally, shown)
        wanted = secrets(tally, copy, shown)
        found = search(copy, wanted)
        tally.check(not found, f"withheld values are in the package: {found[:5]}")
        # The search can find: the same values in the package that shows them.
        met = {text for _, text in search(shown, wanted)}
        handed = {disclosure for disclosure, *_ in opened(shown)}
        tally.check(handed <= met, f"the search misses {len(handed - met)} disclosures where they are shown")
        tally.check(len(met - handed) > 5, f"the search finds {len(met - handed)} values where pages show them")
        photos(tally, bench, copy)
        prices(tally, copy, shown)
        prices_in_clear(tally, copy, shown)
        same_records(tally, copy, shown)
        code, _ = bench.verdict(copy)
        tally.check(code == 2, f"ours ends with {code} for a stranger")
        tally.check(bench.verdict(package)[0] == 2, "the zip file is judged otherwise")
        changes(tally, bench, copy, package)
        tally.check(bags(tally, copy), "the folder is not as it was after the changes")
        stamped(tally, bench)
    tally.close()


main()
