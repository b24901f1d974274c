"""The hostile corpus: rooms drawn from a seed, each with names, marks, files or a command that a tool may break on."""

import random
import re
import zipfile
from contextlib import redirect_stderr, redirect_stdout
from io import BytesIO, StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from warnings import catch_warnings, simplefilter

import pandas as pd

from panelstats.cli import main

STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
# No number; nought below nought; a sentence whose field nobody filled in.
NO_NUMBER = re.compile(r"(?<![\w.'-])(?:nan|NaN|[-−+]?inf|None|NaT|<NA>)(?![\w'-])|−0(?:\.0+)?(?![\d.,])|\{[a-z_]+\}")
NAMES = [
    "\x1b[31mred", "\x9b2J", "\u202eback", "=1+1", "+x", "@sum", "<b>5 & 6</b>", "'; --", "con", "nul", "...", "a/b",
    "a\\b", "elm a", "elm/a", "Elm a", "e\u0301", "é", "茶" * 90, "x" * 300, "שלום", "🍵", "{{ lot }}", "%s", "7", "07",
    "1e5", "TRUE", "0", "-", "\t", '"', "a\nb", "A1:B2", "#REF!", "\u200b", "\ufeffq", "ＡＢ", "½",
]  # fmt: skip
MARKS = [
    "six",
    "",
    "-",
    "7½",
    "7,5",
    "1e999",
    "nan",
    "inf",
    "-inf",
    "5-6",
    "=2+3",
    "1/2",
    "TRUE",
    "9" * 400,
    "１２",
    "5 ?",
]
COMMANDS = [
    ["session"], ["session", "--taster-sheets"], ["session", "--set-aside"], ["session", "--json", "--set-aside"],
    ["shortlist", "--set-aside"], ["trainees", "--set-aside"], ["read"], ["read", "--mark"], ["read", "--json"],
    ["start"], ["garden", "--all", "--set-aside"], ["match", "--standard", "A", "--set-aside"], ["differ"],
    ["match", "--standard", "LOT", "--set-aside"], ["map", "--set-aside"], ["map", "--within", "all", "--set-aside"],
    ["map", "--set-aside", "--standard", "LOT", "--fact", "price", "--json"], ["value", "--set-aside"],
    ["value", "--by", "price", "--set-aside"], ["season", "--set-aside"], ["season", "--set-aside", "--taster-sheets"],
    ["tasters", "--set-aside"], ["tasters", "--json", "--set-aside"], ["summary", "--set-aside"],
    ["summary", "--set-aside", "--lots", "LOT", "--densities", "BESIDE", "--grams", "250", "--millilitres", "900"],
    ["blend", "--set-aside", "--standard", "LOT", "--stock", "BESIDE"], ["blend", "--set-aside", "--standard", "LOT"],
    ["pack", "--grams", "250", "--millilitres", "900"], ["pack", "--grams", "1e9", "--millilitres", "1e-9"],
    ["plan", "--tasters", "a,b", "--limit", "9"], ["plan", "--tasters", "LOT,b", "--limit", "40", "--service", "tray"],
    ["map", "--joined", "--set-aside"], ["session", "--set-aside", "--session", "s1"],
]  # fmt: skip
# What stands where a mass, a price or a number of kilograms should.
ODD = [
    0,
    -5,
    1e12,
    1e-12,
    "nan",
    "inf",
    "1 234,5",
    "€ 3",
    "£4",
    "3 kg",
    "2026-02-30",
    "=1+1",
    "",
    "-",
    "1e999",
    "9" * 50,
]
FIGURES = {
    "plain": lambda rng, lot, taster: round(5 + lot % 4 + rng.gauss(0, 0.7)),
    "three decimals": lambda rng, lot, taster: round(5 + lot % 4 + rng.gauss(0, 0.7), 3),
    "stretched": lambda rng, lot, taster: (5 + lot % 4 + rng.gauss(0, 0.7)) * 1e100,
    "shrunk": lambda rng, lot, taster: (5 + lot % 4 + rng.gauss(0, 0.7)) * 1e-9,
    "shifted": lambda rng, lot, taster: 1e6 + lot % 4 + rng.random(),
    "flat": lambda rng, lot, taster: 5,
    "one taster flat": lambda rng, lot, taster: 5 if taster == 0 else lot % 4 + rng.randrange(3),
    "no error": lambda rng, lot, taster: lot + taster,
    "one mark apart": lambda rng, lot, taster: 9 if (lot, taster) == (0, 0) else 5,
}


def room(rng: random.Random) -> tuple[pd.DataFrame, str]:
    """A table of scores and what is hostile in it."""
    kind = rng.choice(list(FIGURES))
    lots, tasters, pots = rng.choice([1, 2, 5, 9, 30]), rng.choice([1, 2, 3, 5]), rng.choice([1, 2])
    groups = rng.choice([1, 1, 2, lots])
    prices = [rng.choice(ODD) if rng.random() < 0.05 else 2 + lot % 4 + rng.random() for lot in range(lots)]
    made = [
        rng.choice(["2026-02-30", "soon", ""]) if rng.random() < 0.1 else f"2026-02-{1 + lot % 28}"
        for lot in range(lots)
    ]
    rows = [
        {"lot": f"L{lot}", "taster": f"t{taster}", "pot": pot, "brisk": FIGURES[kind](rng, lot, taster),
         "garden": f"g{lot % 2}", "class": f"c{lot % groups}", "price": prices[lot], "made": made[lot]}
        for taster in range(tasters) for lot in range(lots) for pot in range(1, pots + 1)
    ]  # fmt: skip
    table = pd.DataFrame(rows).astype(object)
    if rng.random() < 0.3:  # a second word, and sessions
        table["body"] = [FIGURES["plain"](rng, at % lots, 0) for at in range(len(table))]
        table["session"] = [f"s{1 + at % rng.choice([1, 3])}" for at in range(len(table))]
    if rng.random() < 0.1:  # facts that contradict each other
        table.loc[rng.randrange(len(table)), "class"] = "another"
    for column in rng.sample(["lot", "taster", "garden", "class"], rng.randrange(3)):
        old = table[column].unique()
        table[column] = table[column].map(dict(zip(old, rng.sample(NAMES, len(old)), strict=True)))
    for _ in range(rng.choice([0, 0, 1, 3])):
        table.loc[rng.randrange(len(table)), "brisk"] = rng.choice(MARKS)
    if rng.random() < 0.2:
        table = table.rename(columns={"brisk": rng.choice(NAMES)})
    return table, f"{kind}, {lots} lots, {tasters} tasters, {pots} pots"


def file_of(rng: random.Random, table: pd.DataFrame, folder: Path) -> tuple[Path, str]:
    """The table as a file of some kind, whole or damaged."""
    kind = rng.choice(["csv", "csv", "utf-16", "semicolons", "xlsx", "xlsx cut", "xlsx changed", "csv cut", "bomb"])
    text = table.to_csv(index=False, sep=";" if kind == "semicolons" else ",")
    data = text.encode("utf-16" if kind == "utf-16" else "utf-8", "replace")
    if kind.startswith("xlsx"):
        stream = BytesIO()
        with pd.ExcelWriter(
            stream, engine="xlsxwriter", engine_kwargs={"options": {"nan_inf_to_errors": True}}
        ) as book:
            table.to_excel(book, index=False)
        data = stream.getvalue()
    if kind == "bomb":
        stream = BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(
                rng.choice(["docProps/custom.xml", "xl/workbook.xml", "xl/styles.xml"]), bytes(150_000_000)
            )
        data = stream.getvalue()
    if kind.endswith("changed"):
        data = bytes(byte ^ 255 if rng.random() < 0.002 else byte for byte in data)
    if kind.endswith("cut"):
        data = data[: rng.randrange(len(data))]
    path = folder / f"week.{'xlsx' if kind.startswith('xlsx') else 'csv'}"
    path.write_bytes(data)
    return path, kind


def beside(rng: random.Random, table: pd.DataFrame, words: list[str], path: Path) -> Path:
    """A list that a command takes beside the scores, of weighings or of stock, odd in places."""

    def one(usual: float) -> object:
        return rng.choice(ODD) if rng.random() < 0.05 else round(usual * (1 + rng.random() / 5), 1)

    lots = list(dict.fromkeys(table["lot"]))[:9]
    if words[0] == "blend":
        rows = [
            {"lot": lot, "kilograms": one(400), "cost": one(3), "currency": rng.choice(["", "EUR", "USD"])}
            for lot in lots
        ]
    else:
        rows = [
            {"lot": lot, "grade": f"g{at % 2}", "state": "loose", "replicate": turn, "mass": one(100),
             "volume": one(330)}
            for at, lot in enumerate(lots) for turn in range(3)
        ]  # fmt: skip
    pd.DataFrame(rows).to_csv(path, index=False)
    return path


def _typed(table: pd.DataFrame) -> bool:
    """Whether somebody typed a word that is no number: what he typed may be told."""
    return any(NO_NUMBER.fullmatch(str(cell)) for column in table for cell in table[column])


def broken(seed: int) -> tuple[str, list[str]]:
    """One case: what it is, and every promise it breaks."""
    rng = random.Random(seed)
    table, told = room(rng)
    with TemporaryDirectory() as name, catch_warnings():
        simplefilter("error")
        folder = Path(name)
        path, kind = file_of(rng, table, folder)
        words = rng.choice(COMMANDS)
        if {"BESIDE", "pack"} & {*words}:
            other = beside(rng, table, words, folder / "beside.csv")
            path = other if words[0] == "pack" else path
        lot = str(rng.choice(list(table["lot"]))).replace("-", "")  # no option of ours
        words = [{"LOT": lot, "BESIDE": str(folder / "beside.csv")}.get(word, word) for word in words]
        words += ["--out", str(folder / "plan")] * (words[0] == "plan")
        before = path.read_bytes()
        out, err, faults = StringIO(), StringIO(), []
        try:
            with redirect_stdout(out), redirect_stderr(err):
                code = main([words[0], str(path), *words[1:]])
        except SystemExit as stop:
            code = stop.code
        except Exception as error:  # noqa: BLE001 - whatever it is, it is counted
            code = f"{type(error).__name__}: {error}"
        if code not in (0, 2):
            faults.append(f"ended in {code}")
        if code == 2 and "do:" not in err.getvalue():
            faults.append("refused without saying what to do")
        typed = _typed(table) or any(_typed(pd.read_csv(each, dtype=str, keep_default_na=False))
                                     for each in folder.glob("beside.csv"))  # fmt: skip
        if path.read_bytes() != before:
            faults.append("the sheet was changed")
        faults += [f"a rest: {each.name}" for each in folder.rglob(".*")]
        texts = {"standard output": out.getvalue(), "standard error": err.getvalue()}
        texts |= {page.name: page.read_text() for page in folder.rglob("*.html")}
        for where, text in texts.items():
            faults += [f"{where}: steered by {found[0]!r}" for found in [STEERING.search(text)] if found]
            faults += [f"{where}: {found[0]}" for found in [NO_NUMBER.search(text)] if found and not typed]
    return f"{' '.join(words)}: {told}; {kind}", faults
