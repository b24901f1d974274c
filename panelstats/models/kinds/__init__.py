"""Kinds of difference test: chance, curves from d' to right answers and back, serving orders."""

from panelstats.models.kinds.curves import share_correct, share_wrong, slope
from panelstats.models.kinds.inverse import d_prime
from panelstats.models.kinds.orders import allot_orders, serving_orders
from panelstats.models.kinds.register import FORCED, KINDS, SIGNAL, Kind, forced_kind, kind_of

__all__ = [
    "FORCED",
    "KINDS",
    "SIGNAL",
    "Kind",
    "allot_orders",
    "d_prime",
    "forced_kind",
    "kind_of",
    "serving_orders",
    "share_correct",
    "share_wrong",
    "slope",
]
