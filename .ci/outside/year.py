"""Adds up the exported tables of the scripted year by itself, and compares with the books and with the ledger.

python year.py BINARY DIR

DIR is the folder that `testkit year --out DIR` made. The tables are read as text, numbers as exact decimals; nothing here
uses code of the project, and the exported tables are the only thing that is added up.
"""

import csv
import json
import subprocess
import sys
from collections import Counter, defaultdict
from decimal import Decimal
from pathlib import Path

from common import Tally


class Books:
    """The command on the workshop of the year."""

    def __init__(self, binary, folder):
        self.binary, self.folder = Path(binary).resolve(), Path(folder).resolve()

    def run(self, *words):
        done = subprocess.run(
            [self.binary, "--workshop", self.folder / "w", *words],
            capture_output=True,
            check=False,
            cwd=self.folder,
            env={"XDG_DATA_HOME": str(self.folder / "data")},
            text=True,
        )
        if done.returncode:
            sys.exit(f"`{' '.join(words)}` ended with {done.returncode}: {done.stderr}")
        return done.stdout

    def json(self, *words):
        return json.loads(self.run(*words, "--json"), parse_float=Decimal)

    def export(self):
        folder = self.folder / "outside"
        number = 1
        while folder.exists():
            number += 1
            folder = self.folder / f"outside-{number}"
        self.run("book", "export", str(folder))
        return folder


def table(folder, name):
    with open(folder / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def number(text):
    return Decimal(text) if text else Decimal(0)


def plain(money):
    """Sums by currency without those that are nothing."""
    return {currency: Decimal(amount) for currency, amount in money.items() if Decimal(amount)}


class Sums(defaultdict):
    """Sums by key and currency."""

    def __init__(self):
        super().__init__(lambda: defaultdict(Decimal))

    def add(self, key, row):
        if row["amount"]:
            self[key][row["currency"]] += Decimal(row["amount"])


class Added:
    """What the exported tables come to."""

    def __init__(self, folder):
        self.passes, self.pass_minutes, self.minutes = Counter(), Counter(), defaultdict(Decimal)
        self.gone, self.parts = defaultdict(Decimal), {}
        self.months = {"came": Sums(), "went": Sums()}
        self.month_minutes, self.month_passes = defaultdict(Decimal), Counter()
        for row in table(folder, "passes"):
            self.passes[row["blade"]] += 1
            self.month_passes[row["on"][:7]] += 1
            if row["mass_before_g"] and row["mass_after_g"]:
                self.gone[row["blade"]] += Decimal(row["mass_before_g"]) - Decimal(row["mass_after_g"])
        for row in table(folder, "hours"):
            minutes = number(row["time_min"])
            self.minutes[row["blade"]] += minutes
            self.month_minutes[row["on"][:7]] += minutes
            if row["kind"] == "pass":
                self.pass_minutes[row["blade"]] += minutes
        for name in ("bought", "costs", "consumables", "sold", "income"):
            self.parts[name] = Sums()
        names = {"bought": "bought", "cost": "costs", "stock": "costs", "use": "consumables"}
        for row in table(folder, "costs"):
            self.parts[names[row["kind"]]].add(row["blade"], row)
            if row["kind"] != "use":
                self.months["went"].add(row["on"][:7], row)
        for row in table(folder, "sales"):
            self.parts[row["kind"]].add(row["blade"], row)
            self.months["came"].add(row["on"][:7], row)

    def account(self, blade):
        """The parts of a blade's account by currency, with what is left."""
        currencies = sorted({c for part in self.parts.values() for c in part.get(blade, {})})
        account = {}
        for currency in currencies:
            parts = {name: part[blade].get(currency, Decimal(0)) for name, part in self.parts.items()}
            parts["margin"] = (
                parts["sold"] + parts["income"] - parts["bought"] - parts["consumables"] - parts["costs"]
            )
            account[currency] = parts
        return account


def ledger_of(folder):
    with open(folder / "ledger.jsonl", encoding="utf-8") as file:
        return [json.loads(line) for line in file]


def hold_against_ledger(tally, added, folder, ledger):
    """What was acknowledged, blade by blade, against what the tables come to."""
    passes, minutes, gone = Counter(), defaultdict(Decimal), defaultdict(Decimal)
    money = {name: Sums() for name in ("bought", "costs", "sold", "income")}
    names = {"cost": "costs", "income": "income", "sold": "sold"}
    whole = Counter()
    for line in ledger:
        fact, blade = line.get("fact"), line["blade"]
        if not fact:
            continue
        what = fact["what"]
        whole[what] += 1
        if what == "pass":
            passes[blade] += 1
            minutes[blade] += fact["minutes"]
            gone[blade] += Decimal(fact["before"] - fact["after"]) / 10
        if what == "hours":
            minutes[blade] += fact["minutes"]
        text = fact.get("amount") if what in ("cost", "income") else fact.get("price")
        if text and (what in names or what == "entered"):
            amount, currency = text.split(" ")
            money[names.get(what, "bought")].add(blade, {"amount": amount, "currency": currency})
    blades = {line["blade"] for line in ledger if line["blade"]}
    for blade in sorted(blades):
        tally.check(added.passes[blade] == passes[blade], f"{blade}: passes {added.passes[blade]}, {passes[blade]} acknowledged")
        tally.check(added.minutes[blade] == minutes[blade], f"{blade}: {added.minutes[blade]} min, {minutes[blade]} acknowledged")
        tally.check(added.gone[blade] == gone[blade], f"{blade}: {added.gone[blade]} g gone, {gone[blade]} acknowledged")
        for name, sums in money.items():
            found, wanted = plain(added.parts[name][blade]), plain(sums[blade])
            tally.check(found == wanted, f"{blade}: {name} {found}, {wanted} acknowledged")
    sold = [row for row in table(folder, "sales") if row["kind"] == "sold"]
    tally.check(len(sold) == whole["sold"], f"{len(sold)} sold, {whole['sold']} acknowledged")
    refused = [row for row in table(folder, "journal") if row["kind"] == "refused_pass"]
    tally.check(len(refused) >= whole["refused"], f"{len(refused)} refused passes kept, {whole['refused']} acknowledged")
    records = Counter(row["purpose"] for row in table(folder, "records"))
    wanted = Counter(line["fact"]["purpose"] for line in ledger if line.get("fact", {}).get("what") == "sealed")
    wanted["transfer"] += whole["sold"] + whole["returned"]
    wanted["referral"] += whole["referred"]
    wanted["reply"] += whole["replied"]
    corrected = [line["fact"]["withdrawn"] for line in ledger if line.get("fact", {}).get("what") == "corrected"]
    wanted["withdrawal"] += corrected.count(True)
    wanted["correction"] += corrected.count(False)
    for purpose in sorted(set(records) | set(wanted)):
        tally.check(records[purpose] == wanted[purpose], f"{purpose}: {records[purpose]} records, {wanted[purpose]} acknowledged")


def hold_against_accounts(tally, added, books, blades):
    """The account of each blade as `book show` tells it."""
    for blade in blades:
        account = books.json("book", "show", blade)
        tally.check(account["passes"] == added.passes[blade], f"{blade}: {account['passes']} passes by the books")
        for name, found in (("pass_minutes", added.pass_minutes[blade]), ("minutes", added.minutes[blade])):
            tally.check(Decimal(account[name]) == found, f"{blade}: {name} {account[name]} by the books, {found} by the tables")
        own = added.account(blade)
        told = {line["currency"]: line for line in account["currencies"]}
        for currency in sorted(set(own) | set(told)):
            for part in ("bought", "consumables", "costs", "sold", "income", "margin"):
                by_books = Decimal(told.get(currency, {}).get(part, "0"))
                by_tables = own.get(currency, {}).get(part, Decimal(0))
                tally.check(by_books == by_tables, f"{blade}, {currency}: {part} {by_books} by the books, {by_tables} by the tables")


def hold_against_years(tally, added, books):
    """Every month of every year as `book year` tells it."""
    months = set(added.months["came"]) | set(added.months["went"]) | set(added.month_minutes) | set(added.month_passes)
    for year in sorted({month[:4] for month in months}):
        book = books.json("book", "year", year)
        tally.check(len(book["months"]) == 12, f"{year}: {len(book['months'])} months")
        for month in book["months"]:
            name = month["month"]
            for way in ("came", "went"):
                found, wanted = plain(month[way]), plain(added.months[way].get(name, {}))
                tally.check(found == wanted, f"{name}: {way} {found} by the books, {wanted} by the tables")
            minutes = Decimal(month["pass_minutes"]) + Decimal(month["other_minutes"])
            tally.check(minutes == added.month_minutes[name], f"{name}: {minutes} min by the books, {added.month_minutes[name]} by the tables")
            tally.check(month["passes"] == added.month_passes[name], f"{name}: {month['passes']} passes by the books")


def main():
    books, folder = Books(sys.argv[1], sys.argv[2]), Path(sys.argv[2])
    tally = Tally("year")
    exported = books.export()
    added, ledger = Added(exported), ledger_of(folder)
    blades = sorted(row["blade"] for row in table(exported, "blades"))
    tally.check(blades == sorted({line["blade"] for line in ledger if line["blade"]}), "other blades than in the ledger")
    hold_against_ledger(tally, added, exported, ledger)
    hold_against_accounts(tally, added, books, blades)
    hold_against_years(tally, added, books)
    tally.close()


main()
