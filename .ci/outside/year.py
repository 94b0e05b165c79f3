"""Adds up the exported tables of the scripted year by itself, and compares with the books and with the ledger.

python year.py BINARY DIR [NAME]

DIR is the folder that `testkit year --out DIR` made, NAME that of the count (`year` where it is left out). The tables are
read as text, numbers as exact decimals; nothing here uses code of the project, and the exported tables are the only thing
that is added up.
"""

import csv
import json
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

from common import Tally


# The parts of an account that come from the tables.
PARTS = ("bought", "consumables", "costs", "sold", "income")


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


def coins(currency):
    """Decimals of the smallest coin of the currencies of the year (ISO 4217, from memory)."""
    return 0 if currency == "JPY" else 2


def rounded(exact, digits):
    return exact.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_EVEN)


def digits_of(amount):
    return max(0, -amount.as_tuple().exponent)


class Prices:
    """What one unit of a consumable costs: the mean of all that came in with a cost, else the price of a gram of a stone."""

    def __init__(self, ledger, costs):
        self.stones, paid = {}, {}
        for line in ledger:
            words = line["words"]
            if words[:2] == ["stone", "add"] and "--price" in words:
                amount, currency = words[words.index("--price") + 1].split(" ")
                self.stones[words[2]] = (Decimal(amount), currency)
        for row in costs:
            if row["kind"] == "stock" and row["amount"]:
                sums = paid.setdefault(row["what"], [Decimal(0), Decimal(0), set()])
                sums[0] += Decimal(row["amount"])
                sums[1] += Decimal(row["quantity"])
                sums[2].add(row["currency"])
        self.stock = {item: sums for item, sums in paid.items() if len(sums[2]) == 1}

    def of(self, item, quantity, unit):
        """What so much of it costs, with its currency; nothing where no price is known."""
        if item in self.stock:
            amount, came, (currency,) = self.stock[item]
            return rounded(amount * quantity / came, max(coins(currency), digits_of(amount))), currency
        if item in self.stones and unit == "g":
            amount, currency = self.stones[item]
            return rounded(amount * quantity, coins(currency)), currency
        return None


class Sums(defaultdict):
    """Sums by key and currency."""

    def __init__(self):
        super().__init__(lambda: defaultdict(Decimal))

    def add(self, key, row):
        if row["amount"]:
            self[key][row["currency"]] += Decimal(row["amount"])


class Added:
    """What the exported tables come to."""

    def __init__(self, folder, ledger, tally):
        self.passes, self.pass_minutes, self.minutes = Counter(), Counter(), defaultdict(Decimal)
        self.titles = {row["blade"]: row["title"] for row in table(folder, "blades")}
        self.years = defaultdict(Year)
        self.gone = defaultdict(Decimal)
        self.months = {"came": Sums(), "went": Sums()}
        self.month_minutes, self.month_passes = defaultdict(Decimal), Counter()
        for row in table(folder, "passes"):
            self.passes[row["blade"]] += 1
            self.month_passes[row["on"][:7]] += 1
            self.years[row["on"][:4]].passes += 1
            self.years[row["on"][:4]].minutes[row["blade"]] += 0
            if row["mass_before_g"] and row["mass_after_g"]:
                self.gone[row["blade"]] += Decimal(row["mass_before_g"]) - Decimal(row["mass_after_g"])
        for row in table(folder, "hours"):
            minutes = number(row["time_min"])
            self.minutes[row["blade"]] += minutes
            self.month_minutes[row["on"][:7]] += minutes
            self.years[row["on"][:4]].minutes[row["blade"]] += minutes
            if row["kind"] == "pass":
                self.pass_minutes[row["blade"]] += minutes
        self.parts = {name: Sums() for name in PARTS}
        names = {"bought": "bought", "cost": "costs", "stock": "costs", "use": "consumables"}
        costs = table(folder, "costs")
        prices = Prices(ledger, costs)
        for row in costs:
            name = names[row["kind"]]
            if row["kind"] == "use":
                self.use(tally, row, prices)
            else:
                self.months["went"].add(row["on"][:7], row)
            self.money(name, row)
        for row in table(folder, "sales"):
            self.months["came"].add(row["on"][:7], row)
            self.money(row["kind"], row)

    def use(self, tally, row, prices):
        """Puts what was used at its price of one unit in the place of what the books charged, and compares the two."""
        charged = (Decimal(row["amount"]), row["currency"]) if row["amount"] else None
        own = prices.of(row["what"], Decimal(row["quantity"]), row["quantity_unit"])
        what = f"{row['blade']}: {row['quantity']} {row['quantity_unit']} of {row['what']}"
        tally.check(charged == own, f"{what} charged {charged}, at the price of one {own}")
        row["amount"], row["currency"] = (str(own[0]), own[1]) if own else ("", "")

    def money(self, name, row):
        self.parts[name].add(row["blade"], row)
        year = self.years[row["on"][:4]]
        # A purchase or sale without a price is nothing in a year.
        if row["amount"] or row["kind"] not in ("bought", "sold"):
            year.minutes[row["blade"]] += 0
        year.parts[name].add(row["blade"], row)

    def account(self, blade):
        """The parts of a blade's account by currency, with what is left."""
        return account_of(self.parts, blade)


class Year:
    """What the exported tables hold of one year."""

    def __init__(self):
        self.passes, self.minutes = 0, defaultdict(Decimal)
        self.parts = {name: Sums() for name in PARTS}

    def all(self, *names):
        """Sums over all blades, by currency."""
        sums = defaultdict(Decimal)
        for name in names:
            for blade in self.parts[name].values():
                for currency, amount in blade.items():
                    sums[currency] += amount
        return sums


def account_of(all_parts, blade):
    """The parts of an account by currency, with what is left before the hours are paid."""
    currencies = sorted({c for part in all_parts.values() for c in part.get(blade, {})})
    account = {}
    for currency in currencies:
        parts = {name: part[blade].get(currency, Decimal(0)) for name, part in all_parts.items()}
        parts["margin"] = parts["sold"] + parts["income"] - parts["bought"] - parts["consumables"] - parts["costs"]
        account[currency] = parts
    return account


def hold_parts(tally, what, told, own, names):
    """The currencies of an account as the books tell it against those that were added up."""
    told = {line["currency"]: line for line in told}
    for currency in sorted(set(own) | set(told)):
        for part in names:
            by_books = Decimal(told.get(currency, {}).get(part, "0"))
            by_tables = own.get(currency, {}).get(part, Decimal(0))
            tally.check(by_books == by_tables, f"{what}, {currency}: {part} {by_books} by the books, {by_tables} by the tables")


def ledger_of(folder):
    with open(folder / "ledger.jsonl", encoding="utf-8") as file:
        return [json.loads(line) for line in file]


def hold_against_ledger(tally, added, folder, ledger):
    """What was acknowledged, blade by blade, against what the tables come to."""
    passes, minutes, gone = Counter(), defaultdict(Decimal), defaultdict(Decimal)
    money = {name: Sums() for name in PARTS}
    prices = Prices(ledger, [])
    names = {"cost": "costs", "income": "income", "sold": "sold"}
    whole = Counter()
    # The record of the sale was withdrawn: the books do not count it any more.
    facts = [(line["blade"], line["fact"]) for line in ledger if line.get("fact")]
    withdrawn = {blade for blade, fact in facts if fact["what"] == "corrected" and fact["withdrawn"]}
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
        if what == "used":
            quantity, unit = fact["amount"].split(" ")
            amount, currency = prices.of(fact["name"], Decimal(quantity), unit)
            money["consumables"].add(blade, {"amount": str(amount), "currency": currency})
            continue
        if what == "sold" and blade in withdrawn:
            continue
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
    standing = whole["sold"] - len(withdrawn)
    tally.check(len(sold) == standing, f"{len(sold)} sold, {standing} acknowledged and not withdrawn")
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


def rate_of(folder):
    """What an hour is reckoned at, as the workshop's settings of `valuation` say: amount and currency."""
    with open(folder / "w" / "plugins" / "valuation" / "settings.toml", "rb") as file:
        settings = tomllib.load(file, parse_float=Decimal)
    return Decimal(settings["hour_rate"]), settings["currency"]


def hold_against_accounts(tally, added, books, blades):
    """The account of each blade as `book show` tells it."""
    rate, paid_in = rate_of(books.folder)
    for blade in blades:
        account = books.json("book", "show", blade)
        tally.check(account["passes"] == added.passes[blade], f"{blade}: {account['passes']} passes by the books")
        for name, found in (("pass_minutes", added.pass_minutes[blade]), ("minutes", added.minutes[blade])):
            tally.check(Decimal(account[name]) == found, f"{blade}: {name} {account[name]} by the books, {found} by the tables")
        labour = rounded(rate * added.minutes[blade] / 60, max(coins(paid_in), digits_of(rate)))
        told = account["labour"]
        tally.check(told == {"amount": str(labour), "currency": paid_in}, f"{blade}: labour {told} by the books, {labour} {paid_in} by the tables")
        own = added.account(blade)
        if labour:
            own.setdefault(paid_in, {"margin": Decimal(0)})
        for currency, parts in own.items():
            parts["labour"] = labour if currency == paid_in else Decimal(0)
            parts["after_labour"] = parts["margin"] - parts["labour"]
        hold_parts(tally, blade, account["currencies"], own, (*PARTS, "margin", "labour", "after_labour"))


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
        hold_against_year(tally, added, year, book)


def hold_against_year(tally, added, year, book):
    """The sums of a year, and what it holds of each blade."""
    own = added.years[year]
    came, went = own.all("sold", "income"), own.all("bought", "costs")
    left = {currency: came[currency] - went[currency] for currency in set(came) | set(went)}
    for name, wanted in (("came", came), ("went", went), ("left", left)):
        found, wanted = plain(book[name]), plain(wanted)
        tally.check(found == wanted, f"{year}: {name} {found} by the books, {wanted} by the tables")
    minutes = sum(own.minutes.values())
    tally.check(Decimal(book["minutes"]) == minutes, f"{year}: {book['minutes']} min by the books, {minutes} by the tables")
    tally.check(book["passes"] == own.passes, f"{year}: {book['passes']} passes by the books, {own.passes} by the tables")
    told = [line["blade"] or "" for line in book["blades"]]
    tally.check(told == sorted(own.minutes), f"{year}: blades {told} by the books, {sorted(own.minutes)} by the tables")
    for line in book["blades"]:
        blade = line["blade"] or ""
        what = f"{year}, {blade or 'the workshop'}"
        tally.check(line["title"] == added.titles.get(blade, ""), f"{what}: title {line['title']}")
        tally.check(Decimal(line["minutes"]) == own.minutes[blade], f"{what}: {line['minutes']} min by the books, {own.minutes[blade]} by the tables")
        hold_parts(tally, what, line["currencies"], account_of(own.parts, blade), (*PARTS, "margin"))


def main():
    books, folder = Books(sys.argv[1], sys.argv[2]), Path(sys.argv[2])
    tally = Tally(sys.argv[3] if len(sys.argv) > 3 else "year")
    exported = books.export()
    ledger = ledger_of(folder)
    added = Added(exported, ledger, tally)
    blades = sorted(row["blade"] for row in table(exported, "blades"))
    tally.check(blades == sorted({line["blade"] for line in ledger if line["blade"]}), "other blades than in the ledger")
    hold_against_ledger(tally, added, exported, ledger)
    hold_against_accounts(tally, added, books, blades)
    hold_against_years(tally, added, books)
    tally.close()


main()
