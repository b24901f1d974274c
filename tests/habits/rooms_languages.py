"""Rooms whose headings are in another language; the words are from general dictionaries."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.habits.extras import FACT, column, facts
from tests.habits.layouts import Look, cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, STAGE, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
KEYS = (LOT, TASTER, SESSION, POT, "grade", "garden", "remark", "price", "kilograms")
STAGES = ("dry leaf", "infused leaf", "liquor")
# Words for KEYS, for STAGES, and three descriptors of the room's own language.
LANGUAGES: dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]] = {
    "German": (
        ("Los", "Verkoster", "Datum", "Kanne", "Sorte", "Garten", "Bemerkung", "Preis", "Kilogramm"),
        ("trockenes Blatt", "aufgegossenes Blatt", "Aufguss"), ("Farbe", "Stärke", "Körper"),
    ),
    "French": (
        ("Lot", "Dégustateur", "Date", "Théière", "Grade", "Jardin", "Remarque", "Prix", "Kilogrammes"),
        ("feuille sèche", "feuille infusée", "liqueur"), ("couleur", "force", "corps"),
    ),
    "Spanish": (
        ("Lote", "Catador", "Fecha", "Tetera", "Grado", "Jardín", "Observaciones", "Precio", "Kilogramos"),
        ("hoja seca", "hoja infusionada", "licor"), ("color", "fuerza", "cuerpo"),
    ),
    "Portuguese": (
        ("Lote", "Provador", "Data", "Bule", "Grau", "Jardim", "Observações", "Preço", "Quilogramas"),
        ("folha seca", "folha infundida", "licor"), ("cor", "força", "corpo"),
    ),
    "Chinese": (
        ("批号", "评茶员", "日期", "壶", "等级", "茶园", "备注", "价格", "公斤"),
        ("干茶", "叶底", "茶汤"), ("颜色", "强度", "浓度"),
    ),
    "Hindi": (
        ("लॉट", "चखने वाला", "तारीख", "बर्तन", "श्रेणी", "बागान", "टिप्पणी", "मूल्य", "किलोग्राम"),
        ("सूखी पत्ती", "भीगी पत्ती", "अर्क"), ("रंग", "तेज़ी", "गाढ़ापन"),
    ),
    "Japanese": (
        ("ロット", "審査員", "日付", "ポット", "等級", "茶園", "備考", "価格", "キログラム"),
        ("乾燥葉", "茶殻", "水色"), ("色", "強さ", "厚み"),
    ),
}  # fmt: skip


def _facts(language: str, kind: str, decimal: str) -> Build:
    """A sheet with every column of the fifteen words that a wide sheet can have."""

    def build(rng: np.random.Generator) -> Made:
        keys, _, descriptors = LANGUAGES[language]
        word = dict(zip(KEYS, keys, strict=True))
        table = true_table(rng, lots=12, pots=2, descriptors=descriptors, sessions=("2026-03-09",))
        lots = list(table[LOT].unique())
        look = Look(headings={axis: word[axis] for axis in (LOT, TASTER, SESSION, POT)})
        grid = cross(table, (SESSION, LOT, TASTER, POT), (DESCRIPTOR,), look)
        grid = facts(grid, word["garden"], {lot: f"Brallow {n % 4}" for n, lot in enumerate(lots)}, at=2)
        grid = facts(grid, word["grade"], {lot: ("BR", "DU")[n % 2] for n, lot in enumerate(lots)}, at=3)
        grid = facts(grid, word["kilograms"], {lot: 50 * (n % 7 + 4) for n, lot in enumerate(lots)})
        grid = facts(grid, word["price"], {lot: 3 + 0.1 * (n % 5) for n, lot in enumerate(lots)})
        grid = column(grid, word["remark"], lambda row: "?!" if rng.random() < 0.3 else None, means=FACT)
        dialect = {"delimiter": ";" if decimal == "," else ",", "decimal": decimal} if kind == "csv" else {}
        return Made({f"sheet.{kind}": {"1": grid}}, Truth(table, loose=()), dialect=dialect)

    return build


def _stages(language: str) -> Build:
    """A stage over each descriptor."""

    def build(rng: np.random.Generator) -> Made:
        keys, stages, (word, *_) = LANGUAGES[language]
        spoken = dict(zip(STAGES, stages, strict=True))
        table = true_table(rng, descriptors=[f"{stage} {word}" for stage in STAGES])
        table[STAGE] = table[DESCRIPTOR].str.removesuffix(f" {word}")
        labels = {STAGE: spoken, DESCRIPTOR: lambda _: word}
        look = Look(headings={LOT: keys[0], TASTER: keys[1]}, labels=labels, top="merged")
        grid = cross(table, (LOT, TASTER), (STAGE, DESCRIPTOR), look)
        for cell in grid.scores():
            cell.keys[DESCRIPTOR] = (cell.keys[STAGE], cell.keys[DESCRIPTOR])
        names = {(DESCRIPTOR, f"{s} {word}"): {f"{spoken[s]} {word}"} for s in STAGES}
        names |= {(STAGE, s): {spoken[s]} for s in STAGES}
        return Made({"sheet.xlsx": {"1": grid}}, Truth(table, names=names))

    return build


for _language in LANGUAGES:
    _decimal = "," if _language in ("German", "French", "Spanish", "Portuguese") else "."
    room(f"headings in {_language}, facts and remarks, csv", 10)(_facts(_language, "csv", _decimal))
    room(f"headings in {_language}, facts and remarks, xlsx", 10)(_facts(_language, "xlsx", "."))
    room(f"stages in {_language} over the descriptors", 10, 1)(_stages(_language))


@room("headings in a language no dictionary of ours holds", 10)
def unknown_language(rng: np.random.Generator) -> Made:
    table = true_table(rng, descriptors=("rangi", "nguvu"))
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,), Look(headings={LOT: "Fungu", TASTER: "Mwonjaji"}))
    return Made({"sheet.xlsx": {"1": grid}}, Truth(table, must="may ask"))
