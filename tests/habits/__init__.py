"""Rooms in every habit we know, each with its truth; `python -m tests.habits` counts how they are read."""

from importlib import import_module
from pathlib import Path

from tests.habits.room import ROOMS

__all__ = ["ROOMS"]

for _module in sorted(Path(__file__).parent.glob("rooms_*.py")):
    import_module(f"tests.habits.{_module.stem}")
