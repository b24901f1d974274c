"""The classes of habit that a reader must meet."""

CLASSES = {
    1: "headings over headings",
    2: "averages, totals, ranks, copies",
    3: "the standard and controls as lots",
    4: "titles, footnotes, legends with figures",
    5: "headings as products",
    6: "words, stars, letters, dates as scores",
    7: "blocks, several tables, tabs, pivots",
    8: "spellings of one name",
    9: "struck, hidden, coloured, commented cells",
    10: "headings in other languages",
    11: "registers",
    12: "older sessions, half-empty sheets, copies",
    13: "chains of habits drawn by lot",
}
