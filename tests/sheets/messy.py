"""Messy sheets, made by script from one true table of an invented room, so that the true scores are known."""

import csv
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field

import openpyxl
import xlsxwriter

LOTS = ["101", "102", "103", "104", "105", "106"]
TASTERS = ["alder", "beech", "larch"]
DESCRIPTORS = ["colour", "brightness", "strength", "briskness"]


def true_score(lot, taster, descriptor):
    """A half-point score that differs over lots, tasters and descriptors."""
    i, j, k = LOTS.index(lot), TASTERS.index(taster), DESCRIPTORS.index(descriptor)
    return 4 + ((3 * i + 2 * j + 5 * k + i * j) % 9) / 2


TRUE = {(x, t, d): true_score(x, t, d) for x in LOTS for t in TASTERS for d in DESCRIPTORS}
HEADER = ["lot", "taster", *DESCRIPTORS]
WIDE = [HEADER, *([x, t, *(TRUE[x, t, d] for d in DESCRIPTORS)] for x in LOTS for t in TASTERS)]
LONG = [["lot", "taster", "descriptor", "score"], *([x, t, d, s] for (x, t, d), s in TRUE.items())]


def text(value, decimal="."):
    """A cell as text, decimals with the given sign."""
    return "" if value is None else str(value).replace(".", decimal) if isinstance(value, float) else str(value)


def delimited(rows, delimiter=",", decimal=".", end="\n", encoding="utf-8"):
    """The bytes of a text file."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(
        [[text(v, decimal) for v in row] for row in rows]
    )
    return out.getvalue().encode(encoding)


def workbook(sheets, formats=None, finish: Callable | None = None):
    """The bytes of an .xlsx; `sheets` is {name: rows}, `finish` may change the open workbook."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(list(row))
    if finish:
        finish(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def changed(rows, at):
    """Rows with some cells replaced: {(row, column): value}, both counted from 0, row 0 the header."""
    new = [list(row) for row in rows]
    for (row, column), value in at.items():
        new[row][column] = value
    return new


def lot_of(row):
    """The lot, taster of a row of WIDE, counted from 1 below the header."""
    return WIDE[row][0], WIDE[row][1]


def without(*cells):
    """The true scores less some cells of WIDE given as (row, column)."""
    gone = {(*lot_of(r), HEADER[c]) for r, c in cells}
    return {key: value for key, value in TRUE.items() if key not in gone}


@dataclass
class Case:
    """One messy source: files by name, and what must come of it."""

    name: str
    files: dict[str, bytes]
    scores: dict = field(default_factory=lambda: TRUE)
    problems: list = field(default_factory=list)  # (row, column, value, reason) in order
    left: dict | None = None  # scores that remain when the problems are set aside
    says: tuple = ()  # sentences the inferred table must hold
    kwargs: dict = field(default_factory=dict)
    error: str = ""  # the whole file cannot be read: how the message begins
    session: str | None = None


CASES: list[Case] = []


def case(name, files, **rest):
    """Add a case; a single bytes object is a file named sheet.csv or sheet.xlsx."""
    if isinstance(files, bytes):
        files = {"sheet.xlsx" if files.startswith(b"PK") else "sheet.csv": files}
    CASES.append(Case(name, files, **rest))


# --- text files: encodings, delimiters, decimals, line ends ---------------------------------------------------------
case("plain wide csv", delimited(WIDE))
case("plain long csv", delimited(LONG))
case("utf-8 with byte order mark", delimited(WIDE, encoding="utf-8-sig"))
case("utf-16 with byte order mark", delimited(WIDE, encoding="utf-16"))
case("utf-16 little-endian without mark", delimited(WIDE, encoding="utf-16-le"))
case("utf-16 big-endian without mark", delimited(WIDE, encoding="utf-16-be"))
ACCENTED = changed(WIDE, {(0, 1): "dégustateur"})
case("windows-1252", delimited(ACCENTED, encoding="cp1252"), says=("read as Windows-1252 text",))
case("semicolons and decimal commas", delimited(WIDE, ";", ","))
case("semicolons and decimal points", delimited(WIDE, ";"))
case("tabs and decimal commas", delimited(WIDE, "\t", ","))
case("tabs", delimited(WIDE, "\t"))
case("strokes", delimited(WIDE, "|"))
case("commas and quoted decimal commas", delimited(WIDE, ",", ","))
case("carriage returns only", delimited(WIDE, end="\r"))
case("carriage return and line feed", delimited(WIDE, end="\r\n"))
case("no line end at the end", delimited(WIDE).rstrip(b"\n"))
case("sep line", b"sep=;\r\n" + delimited(WIDE, ";", ",", "\r\n"))
case("long with semicolons and decimal commas", delimited(LONG, ";", ","))
case("everything quoted", "\n".join(";".join(f'"{text(v)}"' for v in row) for row in WIDE).encode())

# --- rows that hold no marks ---------------------------------------------------------
TITLED = [["Tasting room, Ostrel Quay"], [], *WIDE]
case("title and blank rows above", delimited(TITLED))
case("blank rows between", delimited([*WIDE[:5], [], [""] * 6, *WIDE[5:]]))
case("header repeated", delimited([*WIDE[:8], HEADER, *WIDE[8:]]), says=("the header again",))
TOTAL = ["Total", "", *(sum(TRUE[x, t, d] for x in LOTS for t in TASTERS) for d in DESCRIPTORS)]
case("total row", delimited([*WIDE, TOTAL]), says=("totals, not marks",))
MEAN = ["Average", "", 6.1, 6.2, 6.3, 6.4]
case("average rows between", delimited([*WIDE[:4], MEAN, *WIDE[4:], MEAN]), says=("totals, not marks",))
case("total column", delimited([[*HEADER, "Total"], *([*r, sum(r[2:])] for r in WIDE[1:])]))

# --- headers ---------------------------------------------------------
case(
    "upper case headers",
    delimited([[h.upper() for h in HEADER], *WIDE[1:]]),
    scores={(x, t, d.upper()): s for (x, t, d), s in TRUE.items()},
)
case("synonyms of the standards", delimited([["Sample No.", "Assessor", *DESCRIPTORS], *WIDE[1:]]))
case("synonyms in a long sheet", delimited([["Product", "Panellist", "Attribute", "Intensity"], *LONG[1:]]))
case("accents and a colon", delimited([["Échantillon", "Dégustateur :", *DESCRIPTORS], *WIDE[1:]]))
ORDER = [3, 1, 5, 0, 2, 4]
case("columns in any order", delimited([[row[i] for i in ORDER] for row in WIDE]))
case(
    "headers of their own, mapped",
    delimited([["Muster", "Wer", *DESCRIPTORS], *WIDE[1:]]),
    kwargs={"columns": {"Muster": "lot", "wer": "taster"}},
)
KEYED = [
    ["garden", "invoice", "year", "taster", *DESCRIPTORS],
    *(["Upper Brallow", x, 7, t, *r] for x, t, *r in WIDE[1:]),
]
case(
    "a lot of three columns",
    delimited(KEYED),
    kwargs={"columns": {"garden": "lot", "invoice": "lot", "year": "lot"}},
    scores={(f"Upper Brallow / {x} / 7", t, d): s for (x, t, d), s in TRUE.items()},
)
case(
    "a column left out",
    delimited([[*HEADER, "mood"], *([*r, 3] for r in WIDE[1:])]),
    kwargs={"columns": {"mood": None}},
)
case(
    "no header for the lot",
    delimited([["thing", "taster", *DESCRIPTORS], *WIDE[1:]]),
    error="no column says which lot was tasted",
)
case(
    "a column twice",
    delimited([[*HEADER, "colour"], *([*r, r[2]] for r in WIDE[1:])]),
    problems=[(0, "colour", "", "the column stands there twice, in columns 3 and 7")] * 2,
    left={k: v for k, v in TRUE.items() if k[2] != "colour"},
)
case(
    "cells without a heading",
    workbook({"s": [[*HEADER, None], *([*r, 9] for r in WIDE[1:])]}),
    problems=[(2, "", "9", "18 cells without a heading, in column 7")],
    left=TRUE,
)

# --- facts of the lot beside the scores ---------------------------------------------------------
FACTS = [
    ["lot", "grade", "kg", "price", "taster", *DESCRIPTORS, "remarks"],
    *([x, "BOP", "1,250", "4.80", t, *r, "bright"] for x, t, *r in WIDE[1:]),
]
case("facts and money", delimited(FACTS))
case(
    "money under a heading of its own",
    delimited([[*HEADER, "guide"], *([*r, 310 + 2 * i] for i, r in enumerate(WIDE[1:]))]),
    problems=[(0, "guide", "", "a number column unlike the others: it runs 310 to 344, they reach 8")],
    left=TRUE,
)
case(
    "a rank",
    delimited([[*HEADER, "rank"], *([*r, 1 + i // 3] for i, r in enumerate(WIDE[1:]))]),
    problems=[(0, "rank", "", "a number column whose heading names no score")],
    left=TRUE,
)
case(
    "a percentage in a fact",
    delimited([[*HEADER, "moisture class"], *([*r, "3.1 %"] for r in WIDE[1:])]),
    kwargs={"columns": {"moisture class": "grade"}},
)

# --- cells: numbers that are numbers ---------------------------------------------------------
SEVEN = next((r, c) for r in range(1, 19) for c in range(2, 6) if WIDE[r][c] == 7.5)
FIVE = next((r, c) for r in range(1, 19) for c in range(2, 6) if WIDE[r][c] == 5.0)
case("a half mark", delimited(changed(WIDE, {SEVEN: "7½"})))
case("a half mark with a space", delimited(changed(WIDE, {SEVEN: "7 ½"})))
case("a mixed fraction", delimited(changed(WIDE, {SEVEN: "7 1/2"})))
case("trailing spaces", delimited(changed(WIDE, {SEVEN: " 7.5  "})))
case("no-break spaces", delimited(changed(WIDE, {SEVEN: "\u00a07.5\u00a0", FIVE: "5\u202f"})))
case("zero-width spaces", delimited(changed(WIDE, {SEVEN: "7.5\u200b"})))
case("full-width digits", delimited(changed(WIDE, {SEVEN: "７.５", FIVE: "５"})))
case("trailing zeros", delimited(changed(WIDE, {SEVEN: "7.50", FIVE: "5.000"})))
case("numbers stored as text", workbook({"s": [HEADER, *([str(v) for v in r] for r in WIDE[1:])]}))
case(
    "labels with case and spaces astray",
    delimited(changed(WIDE, {(2, 1): "Beech ", (5, 1): " BEECH", (4, 0): "102 "})),
    says=("another spelling of the same name",),
)

# --- cells: blanks ---------------------------------------------------------
for blank in ("", "-", "n/a", "N/A", "abs", "Absent", "–", "—", " ", "nan"):
    case(f"blank written {blank!r}", delimited(changed(WIDE, {SEVEN: blank})), scores=without(SEVEN))

# --- cells: problems ---------------------------------------------------------
PLACE = (SEVEN[0] + 1, HEADER[SEVEN[1]])


def planted(name, value, reason, shown=None):
    """A case with one problem cell in a text file."""
    found = [(*PLACE, shown or value, reason)]
    case(name, delimited(changed(WIDE, {SEVEN: value})), problems=found, left=without(SEVEN))


planted("a word", "good", "not a number")
planted("a range", "7-8", "a range, or two numbers in one cell")
planted("a range with a dash", "7–8", "a range, or two numbers in one cell")
planted("two numbers", "7/8", "a range, or two numbers in one cell")
planted("a mark nobody declared", "7+", "not a number")
planted("a percentage", "75%", "a percentage where a score belongs")
planted("a date as text", "5-Jul", "a date or time where a score belongs")
planted("TRUE as text", "TRUE", "TRUE or FALSE where a score belongs")
planted("an error as text", "#DIV/0!", "an error cell")
planted("the other decimal sign", "7,5", "decimal comma and decimal point in one file")
planted("scientific notation", "7.5E+00", "a number in scientific notation")
planted("thousands", "7 500", "not a number")
planted("infinity", "inf", "not a number")
planted("an underscore", "7_5", "not a number")
planted("a comment with line ends", "good\nbut thin", "not a number", "good but thin")
planted(
    "a cell of 200,000 characters",
    "x" * 200_000,
    "a text far too long for a score",
    "x" * 60 + "... (200,000 characters)",
)

# --- rows: problems ---------------------------------------------------------
GONE4 = without(*((4, c) for c in range(2, 6)))
case(
    "no lot in a row",
    delimited(changed(WIDE, {(4, 0): ""})),
    problems=[(5, "lot", "", "a row with marks but without a lot")],
    left=GONE4,
)
case(
    "no taster in a row",
    delimited(changed(WIDE, {(4, 1): ""})),
    problems=[(5, "taster", "", "a row with marks but without a taster")],
    left=GONE4,
)
case(
    "a row too short",
    delimited([*WIDE[:4], WIDE[4][:5], *WIDE[5:]]),
    problems=[(5, "", "", "a row of 5 cells under a header of 6")],
    left=GONE4,
)
case(
    "a row too long",
    delimited([*WIDE[:4], [*WIDE[4], 7], *WIDE[5:]]),
    problems=[(5, "", "", "a row of 7 cells under a header of 6")],
    left=GONE4,
)
case(
    "a delimiter in an unquoted comment",
    delimited([[*HEADER, "remarks"], *([*r, "fine"] for r in WIDE[1:])]).replace(b"fine", b"fine, thin", 1),
    problems=[(2, "", "", "a row of 8 cells under a header of 7")],
    left=without(*((1, c) for c in range(2, 6))),
)
case("empty cells beyond the header", delimited([*WIDE[:4], [*WIDE[4], "", ""], *WIDE[5:]]))
case(
    "the same serving twice",
    delimited([*WIDE, WIDE[4]]),
    problems=[
        (5, "lot", "102", "the same serving is scored twice"),
        (20, "lot", "102", "the same serving is scored twice"),
    ],
    left=GONE4,
)
TWICE = [["lot", "taster", "look", *DESCRIPTORS], *([x, t, 1, *r] for x, t, *r in WIDE[1:])]
case(
    "a look that is no number",
    delimited(changed(TWICE, {(4, 2): "first"})),
    problems=[(5, "look", "first", "a look that is no whole number")],
    left=GONE4,
)
POTTED = [["lot", "taster", "pot", *DESCRIPTORS], *([x, t, 1, *r] for x, t, *r in WIDE[1:])]
case(
    "a pot without number",
    delimited(changed(POTTED, {(4, 2): ""})),
    problems=[(5, "pot", "", "a pot without number, while other rows have one")],
    left=GONE4,
)
SLIP = changed(LONG, {(2, 2): "brihgtness"})
case(
    "a descriptor misspelt",
    delimited(SLIP),
    problems=[(3, "descriptor", "brihgtness", "a descriptor that is almost 'brightness'")],
    left={k: v for k, v in TRUE.items() if k != tuple(LONG[2][:3])},
)

# --- registers ---------------------------------------------------------
FOLDER = {
    "week.csv": delimited(changed(WIDE, {(4, 1): "aldr"})),
    "tasters.csv": delimited([["taster", "role"], *([t, "senior"] for t in TASTERS)]),
}
case(
    "an unknown taster, the nearest told",
    FOLDER,
    problems=[(5, "taster", "aldr", "a taster the register tasters does not list")],
    left=GONE4,
)
SCALE = delimited([["descriptor", "low", "high", "step"], *([d, 0, 10, 0.5] for d in DESCRIPTORS)])
case(
    "outside the scale",
    {"week.csv": delimited(changed(WIDE, {SEVEN: 11})), "descriptors.csv": SCALE},
    problems=[(*PLACE, "11", "outside the scale")],
    left=without(SEVEN),
)
case(
    "off the step",
    {"week.csv": delimited(changed(WIDE, {SEVEN: 7.3})), "descriptors.csv": SCALE},
    problems=[(*PLACE, "7.3", "off the step of the scale")],
    left=without(SEVEN),
)
MARKS = delimited(
    [["mark", "worth", "taster"], ["7+", "7.5", ""], ["7/8", "7.5", ""], ["nil", "", ""], ["-", "5", "beech"]]
)
case("marks a room declared", {"week.csv": delimited(changed(WIDE, {SEVEN: "7+"})), "marks.csv": MARKS})
case(
    "a mark that is a blank",
    {"week.csv": delimited(changed(WIDE, {SEVEN: "nil"})), "marks.csv": MARKS},
    scores=without(SEVEN),
)
OWN = next((r, c) for r in range(1, 19) for c in range(2, 6) if WIDE[r][c] == 5.0 and WIDE[r][1] == "beech")
case("a mark of one taster's", {"week.csv": delimited(changed(WIDE, {OWN: "-"})), "marks.csv": MARKS})
CODES = {x: f"{n:03d}" for x, n in zip(LOTS, (417, 62, 583, 296, 735, 841), strict=True)}
KEY = delimited([["code", "lot"], *([CODES[x], x] for x in LOTS)])
CODED = [["code", "taster", *DESCRIPTORS], *([CODES[x], t, *r] for x, t, *r in WIDE[1:])]
case("blind codes", {"week.csv": delimited(CODED), "codes.csv": KEY})
EATEN = [CODED[0], *([int(c), *r] for c, *r in CODED[1:])]
case(
    "codes whose leading zero was eaten",
    {"week.xlsx": workbook({"s": EATEN}), "codes.csv": KEY},
    says=("its leading zero was lost; the register has it",),
)
case(
    "an unknown code",
    {"week.csv": delimited(changed(CODED, {(1, 0): "471"})), "codes.csv": KEY},
    problems=[(2, "code", "471", "a code the register codes does not list")],
    left=without(*((1, c) for c in range(2, 6))),
)
case(
    "a code that became a number in scientific notation",
    {"week.csv": delimited(changed(CODED, {(1, 0): "4.17E+02"})), "codes.csv": KEY},
    problems=[(2, "code", "4.17E+02", "a code the register codes does not list")],
    left=without(*((1, c) for c in range(2, 6))),
)

# --- layouts ---------------------------------------------------------
ACROSS = [
    ["taster", "descriptor", *LOTS],
    *([t, d, *(TRUE[x, t, d] for x in LOTS)] for t in TASTERS for d in DESCRIPTORS),
]
case("lots across, a row per taster and descriptor", delimited(ACROSS))
case(
    "tasters across",
    delimited(
        [
            ["lot", "descriptor", *TASTERS],
            *([x, d, *(TRUE[x, t, d] for t in TASTERS)] for x in LOTS for d in DESCRIPTORS),
        ]
    ),
)
EACH = {t: [["", *LOTS], *([d, *(TRUE[x, t, d] for x in LOTS)] for d in DESCRIPTORS)] for t in TASTERS}
case("a sheet per taster, lots across, no heading over the words", workbook(EACH))
LOTWORD = {t: [["Lot", *LOTS], *rows[1:]] for t, rows in EACH.items()}
case("a sheet per taster, lots across, Lot in the corner", workbook(LOTWORD))
case(
    "a file per taster",
    {
        f"{t}.csv": delimited([["lot", *DESCRIPTORS], *([x, *(TRUE[x, t, d] for d in DESCRIPTORS)] for x in LOTS)])
        for t in TASTERS
    },
)
NAMED = [["Taster: {}"], ["Date", "1 March 2024"], [], ["lot", *DESCRIPTORS]]
case(
    "the taster named above",
    {
        f"sheet {i}.csv": delimited(
            [[f"Taster: {t}"], *NAMED[1:], *([x, *(TRUE[x, t, d] for d in DESCRIPTORS)] for x in LOTS)]
        )
        for i, t in enumerate(TASTERS)
    },
    session="1 March 2024",
)
OVER = [
    ["Lot", *(x for x in LOTS for _ in TASTERS)],
    ["Descriptor", *(t for _ in LOTS for t in TASTERS)],
    *([d, *(TRUE[x, t, d] for x in LOTS for t in TASTERS)] for d in DESCRIPTORS),
]
case("lots over tasters", delimited(OVER))
SPARSE = [["Lot", *(x if i == 0 else "" for x in LOTS for i in range(3))], *OVER[1:]]
case("lots over tasters, empty cells between", delimited(SPARSE))


def _merge(book):
    page = book["s"]
    for i in range(len(LOTS)):
        page.merge_cells(start_row=1, start_column=2 + 3 * i, end_row=1, end_column=4 + 3 * i)


case("lots over tasters, merged", workbook({"s": SPARSE}, finish=_merge))
TDOWN = [
    ["", *(t for t in TASTERS for _ in DESCRIPTORS)],
    ["lot", *(d for _ in TASTERS for d in DESCRIPTORS)],
    *([x, *(TRUE[x, t, d] for t in TASTERS for d in DESCRIPTORS)] for x in LOTS),
]
case("tasters over descriptors", delimited(TDOWN))
STAGED = [["", "", "Dry leaf", "", "Liquor", ""], ["lot", "taster", "colour", "aroma", "colour", "aroma"], *WIDE[1:]]
STAGE_NAMES = dict(
    zip(DESCRIPTORS, ("dry leaf colour", "dry leaf aroma", "liquor colour", "liquor aroma"), strict=True)
)
case(
    "the same word under two stages",
    delimited(STAGED),
    scores={(x, t, STAGE_NAMES[d]): s for (x, t, d), s in TRUE.items()},
)
case(
    "lots over names that nothing tells apart",
    delimited([["", "N", "", "O", ""], ["lot", "p", "q", "p", "q"], *([r[0], *r[2:]] for r in WIDE[1::3])]),
    error="two rows of headings, and nothing tells which is the taster and which the descriptor",
)

# --- workbooks ---------------------------------------------------------
case("plain workbook", workbook({"s": WIDE}))
case("several sheets, one per session", workbook({"week 1": WIDE[:10], "week 2": [HEADER, *WIDE[10:]]}), session="")
case(
    "a sheet of notes beside",
    workbook({"Scores": WIDE, "Notes": [["tasted in the small room"], ["north light"]]}),
    says=("nothing in it is a number",),
)
case(
    "a sheet left out",
    workbook({"Scores": WIDE, "Old": WIDE[:3]}),
    kwargs={"leave_out": ["Old"]},
    says=("left out as asked",),
)
case("a workbook named .csv", {"sheet.csv": workbook({"s": WIDE})})
case("a text file named .xlsx", {"sheet.xlsx": delimited(WIDE)})
case("a text file named .xls", {"sheet.xls": delimited(WIDE, "\t", encoding="utf-16")})


def _hide(book):
    book["s"].row_dimensions[4].hidden = True


case("hidden rows", workbook({"s": WIDE}, finish=_hide), says=("1 hidden rows read like the others",))


def _error(book):
    cell = book["s"].cell(SEVEN[0] + 1, SEVEN[1] + 1)
    cell.value, cell.data_type = "#DIV/0!", "e"


case(
    "an error cell", workbook({"s": WIDE}, finish=_error), problems=[(*PLACE, "", "an error cell")], left=without(SEVEN)
)
case(
    "a formula without value",
    workbook({"s": changed(WIDE, {SEVEN: "=15/2"})}),
    problems=[(*PLACE, "", "a formula without a stored value")],
    left=without(SEVEN),
)
case(
    "a truth value",
    workbook({"s": changed(WIDE, {SEVEN: True})}),
    problems=[(*PLACE, "TRUE", "TRUE or FALSE where a score belongs")],
    left=without(SEVEN),
)


def _date(book):
    import datetime

    book["s"].cell(SEVEN[0] + 1, SEVEN[1] + 1).value = datetime.date(2024, 7, 5)


case(
    "a date where a score belongs",
    workbook({"s": WIDE}, finish=_date),
    problems=[(*PLACE, "2024-07-05", "a date or time where a score belongs")],
    left=without(SEVEN),
)


def formulas():
    """A workbook whose scores are formulas with stored values."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        page = book.add_worksheet("s")
        for r, row in enumerate(WIDE):
            for c, value in enumerate(row):
                if r and c > 1:
                    page.write_formula(r, c, f"={value}*1", None, value)
                else:
                    page.write(r, c, value)
    return out.getvalue()


case("formulas with stored values", formulas())


def _merged_lots(book):
    page = book["s"]
    for i in range(len(LOTS)):
        page.merge_cells(start_row=2 + 3 * i, start_column=1, end_row=4 + 3 * i, end_column=1)


case(
    "lots merged down",
    workbook(
        {"s": [HEADER, *([x if i % 3 == 0 else None, *r] for i, (x, *r) in enumerate(WIDE[1:]))]}, finish=_merged_lots
    ),
    says=("6 merged cells filled",),
)
DATED = [["date", *HEADER], *([("2024-03-01", "01/03/2024")[i % 2], *r] for i, r in enumerate(WIDE[1:]))]
case("dates written two ways", delimited(DATED), says=("one date written two ways",), session="2024-03-01")

# --- files that are no sheets ---------------------------------------------------------
BOOK = workbook({"s": WIDE})
case("a truncated workbook", {"sheet.xlsx": BOOK[: len(BOOK) // 2]}, error="the workbook is damaged or cut short")
case(
    "a web page named .xls",
    {"sheet.xls": b"<html><body><table><tr><td>lot</td></tr></table></body></html>"},
    error="the file is a web page under the name of a sheet",
)
case("a PDF named .xlsx", {"sheet.xlsx": b"%PDF-1.7 ..."}, error="the file is a PDF document, not a sheet")
case("an empty file", {"sheet.csv": b""}, error="the file is empty")
case("a picture", {"sheet.csv": b"\x89PNG\r\n\x1a\n" + bytes(range(256))}, error="the file is a picture, not a sheet")
case(
    "a quote never closed",
    delimited(WIDE).replace(b"103,", b'"103,', 1),
    error="a quoted cell is opened and never closed",
)


def bomb(size=300_000_000):
    """A workbook whose one sheet unpacks to far more than it should."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BOOK)) as whole, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in whole.infolist():
            data = whole.read(part)
            archive.writestr(part.filename, data + b" " * size if part.filename.endswith("sheet1.xml") else data)
    return out.getvalue()
