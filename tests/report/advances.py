"""Writes panelstats/report/charts/advances.py anew: how wide signs are at most, over fonts that readers have.

Needs the fonts of Debian's fonts-dejavu, fonts-liberation and fonts-noto-core:
python tests/report/advances.py | ruff format - > panelstats/report/charts/advances.py
"""

import math
import unicodedata
from pathlib import Path

from fontTools.ttLib import TTFont

FOLDER = Path("/usr/share/fonts/truetype")
FACES = [FOLDER / f"{name}.ttf" for name in (
    "dejavu/DejaVuSans", "dejavu/DejaVuSans-Bold",
    "liberation/LiberationSans-Regular", "liberation/LiberationSans-Bold",
    "noto/NotoSans-Regular", "noto/NotoSans-Bold", "noto/NotoSansHebrew-Regular", "noto/NotoSansHebrew-Bold",
    "noto/NotoSansArabic-Regular", "noto/NotoSansArabic-Bold",
)]  # fmt: skip
# Latin, Greek, Cyrillic, Hebrew, Arabic, punctuation, signs of arithmetic (The Unicode Standard, code charts).
BLOCKS = ((0x20, 0x17F), (0x391, 0x3C9), (0x400, 0x491), (0x5D0, 0x5EA), (0x621, 0x669), (0x2010, 0x2015),
          (0x2018, 0x2022), (0x2026, 0x2026), (0x2030, 0x2033), (0x2039, 0x203A), (0x20AC, 0x20AC), (0x2122, 0x2122),
          (0x2190, 0x2193), (0x2212, 0x2212), (0x2248, 0x2248), (0x2260, 0x2265))  # fmt: skip
STEP = 20  # widths are rounded up to a twentieth of an em


def advances(face):
    """Width of every sign of a face, in em."""
    font = TTFont(face)
    per_em, metrics = font["head"].unitsPerEm, font["hmtx"].metrics
    return {code: metrics[glyph][0] / per_em for code, glyph in font.getBestCmap().items()}


def signs():
    """The signs of the table: printed, and not made of another with a mark on it."""
    every = (chr(code) for first, last in BLOCKS for code in range(first, last + 1))
    return [s for s in every if (s.isprintable() or s == " ") and unicodedata.normalize("NFD", s) == s
            and not unicodedata.combining(s)]  # fmt: skip


def main():
    faces = [advances(face) for face in FACES]
    rows = {}
    for sign in signs():
        if found := [face[ord(sign)] for face in faces if ord(sign) in face]:
            rows.setdefault(math.ceil(max(found) * STEP - 1e-9) / STEP, []).append(sign)
    print('"""How wide a sign is at most, in em, over DejaVu Sans, Liberation Sans and Noto Sans, regular and bold.\n')
    print('Read from the faces by tests/report/advances.py; a sign with a mark on it is as wide as without.\n"""\n')
    print("ADVANCES = {")
    for width in sorted(rows):
        parts = ["".join(rows[width][at : at + 80]) for at in range(0, len(rows[width]), 80)]
        print(f"    {width}: " + ("(" if len(parts) > 1 else "") + "\n".join(map(repr, parts))
              + (")" if len(parts) > 1 else "") + ",")  # fmt: skip
    print("}")


if __name__ == "__main__":
    main()
