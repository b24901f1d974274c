"""Two trial blends against the standard: what the answers prove, what the scores prove, and what neither can tell.

The data are invented: a standard "S", a trial blend "B1" that matches it by its making, and "B2", weaker and paler.

Run: python examples/two_blends.py
"""

from pathlib import Path

import panelstats as pst
from panelstats.difference.terminal import differ_text

BUNDLED = Path(__file__).parents[1] / "data" / "blends.xlsx"


def scores_and_answers():
    """The bundled workbook if it is there, else the same invented room made anew."""
    if BUNDLED.exists():
        return pst.read_scores(BUNDLED), pst.read_answers(BUNDLED)
    room = pst.example.blends()
    return pst.read_scores(room.frame, room=room.registers), room.registers["answers"]


def main():
    scores, answers = scores_and_answers()

    print("Can nine tasters settle it by triangles, one answer each?\n")
    print(differ_text(pst.answers_needed("triangle", within_d=1.0, answers=9)))

    print("\n\nWhat the answers of the triangle and duo-trio tests show\n")
    judged = pst.judge_answers(answers, within_share=0.4)
    print(differ_text(judged))

    print("\n\nWhat the scores show, descriptor by descriptor\n")
    matched = pst.match_standard(scores, "S")
    for verdict in matched.verdicts:
        print(verdict, "\n")

    print("And had only two pots of each been brewed?\n")
    two_pots = pst.read_scores(scores.frame.query("pot <= 2"), room=registers(scores))
    for verdict in pst.match_standard(two_pots, "S").verdicts:
        print(verdict, "\n")


def registers(scores):
    """What the room declared, for scores that are read again."""
    return {
        "lots": scores.lots[["lot", "role"]],
        "descriptors": scores.descriptors[["descriptor", "stage", "tolerance"]],
    }


if __name__ == "__main__":
    main()
