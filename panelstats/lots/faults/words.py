"""What is said of faults: whole sentences whose fields come formatted; a step may be for several lots."""

from panelstats.speech import Phrase

QUESTION = Phrase("Which lots carry a fault?")
LOT = "{lot}: {faults}."
NOTICED = Phrase("{fault}, noticed by {noticed} of {tasters} ({low} to {high} of such tasters would notice)")
NAMED = Phrase("{fault}, named by {tasters} in a remark{remark}")
REMARK = Phrase(' ("{remark}")')
NOTHING = Phrase("No fault was noticed by {tasters}; this leaves up to {high} of such tasters who would notice one.")
NEVER_AGAIN = Phrase(
    "Do not taste again; set aside. Whether the tea is safe is for a qualified laboratory and the local authority."
)
TASTE_AGAIN = Phrase("Set aside and taste again from a new pot, by another taster too.")
METHOD = Phrase(
    "Faults: counted, never averaged, and no statistic can remove a lot from this list. Asked are the tasters whose "
    "sheet had the fault to mark; a fault named in a free remark has no number asked. Interval of the share of tasters "
    "who would notice: exact (Clopper and Pearson 1934)."
)
