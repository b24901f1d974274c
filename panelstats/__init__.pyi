from . import example as example
from .errors import DesignError as DesignError
from .errors import PanelError as PanelError
from .errors import SheetError as SheetError
from .result import Act as Act
from .result import Estimate as Estimate
from .result import Result as Result
from .result import Verdict as Verdict
from .scores.cells import Cells as Cells

__all__ = [
    "Act",
    "Cells",
    "DesignError",
    "Estimate",
    "PanelError",
    "Result",
    "SheetError",
    "Verdict",
    "example",
]
