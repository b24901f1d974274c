"""The variances of the season model, in the order of every array of them."""

SOURCES = ("taster", "session", "taster:session", "lot:taster", "lot:taster:session", "lot:session:pot", "residual")
TASTER, SESSION, TASTER_SESSION, LOT_TASTER, LOT_TASTER_SESSION, POT, RESIDUAL = range(len(SOURCES))
