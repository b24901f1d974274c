"""The invented room: seeded data sets in which the truth is known, to learn and to test on.

No person, company, garden or tea in them exists. Every score comes from a seed; what was planted stands in `truth`.
"""

from panelstats.example.bench import bench
from panelstats.example.blends import blends
from panelstats.example.new_tasters import new_tasters
from panelstats.example.room import Room
from panelstats.example.row import row
from panelstats.example.season import season
from panelstats.example.write import ROOMS, write_example

__all__ = ["ROOMS", "Room", "bench", "blends", "new_tasters", "row", "season", "write_example"]
