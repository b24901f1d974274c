"""Letters to gardens: on a sale day one garden's lots changed with its fermenting; its letter says so, no other does.

The data are invented: 300 lots tasted once by two tasters, a garden that fermented for 55 minutes in place of 75 from a
day on, one smoky lot.

Run: python examples/garden.py
"""

import panelstats as pst


def main():
    room = pst.example.row()
    scores = pst.read_scores(room.frame, room=room.registers)

    print("A declared question: what went with the minutes of fermenting, over all gardens?\n")
    print(pst.compare_makes(scores, "fermenting"))

    for garden in ("Mid Brallow 2", "Upper Brallow 1"):
        review = pst.review_garden(scores, garden)
        print(f"\n\nThe letter to {garden}\n")
        print(review.find(pst.GardenLetter).first)
        for verdict in review.verdicts:
            print("-", verdict)


if __name__ == "__main__":
    main()
