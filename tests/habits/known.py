"""Rooms that the reader does not yet manage: read wrong, or read without the word it owes.

Strict: a room that is mended must leave this list.
"""

KNOWN: frozenset[str] = frozenset(
    {
        "Average as each lot's last line, lot repeated",
        "Total as each lot's last line, lot repeated",
        "Panel as each lot's last line, lot repeated",
        "Schnitt as each lot's last line, lot repeated",
        "AVG as each lot's last line, lot repeated",
        "a taster called Average, taster and lot down, descriptor across",
        "a taster called Mean, lot down, taster over descriptor across",
        "a taster called Room, descriptor down, lot over taster across",
        "a taster called Consensus, lot and descriptor down, taster across",
        "a summary tab under another name beside a tab a taster",
        "a file of panel means in the folder of tasters' files",
        "a column Average worked out from its line",
        "a column Total worked out from its line",
        "a column Overall worked out from its line",
        "a column Points worked out from its line",
        "a column Score worked out from its line",
        "a column Max worked out from its line",
        "a column Gesamt worked out from its line",
        "long sheet with a taster called Average",
        "the same file saved twice",
        "STD as the lot in place 0",
        "Std as the lot in place 7",
        "STD as the lot in place 7, registered",
        "Std. as the lot in place 0, registered",
        "STD with its own blocks and an average a lot",
        "a lot called Total in the register",
        "heading {descriptor} {taster}",
        "heading {taster}-{descriptor}",
        "heading {descriptor} ({taster})",
        "heading {taster}: {descriptor}",
        "heading {descriptor}/{taster}",
        "heading {descriptor}_{taster}",
        "heading {descriptor} pot {pot}",
        "heading {descriptor} {pot}",
        "heading Pot {pot} {descriptor}",
        "heading {lot} {taster}",
        "heading {taster} {descriptor}, initials",
        "heading {descriptor} {taster}, one column missing",
        "a signature and counts below",
        "a signature and counts below, another layout",
    }
)
