from . import example as example
from .errors import DesignError as DesignError
from .errors import PanelError as PanelError
from .errors import SheetError as SheetError
from .panel.tasters import TasterAssessment as TasterAssessment
from .panel.tasters import assess_tasters as assess_tasters
from .report.room import write_report as write_report
from .report.workbook import write_workbook as write_workbook
from .result import Act as Act
from .result import Estimate as Estimate
from .result import Result as Result
from .result import Verdict as Verdict
from .scores.cells import Cells as Cells
from .scores.read import read_scores as read_scores
from .scores.table import Scores as Scores

__all__ = [
    "Act",
    "Cells",
    "DesignError",
    "Estimate",
    "PanelError",
    "Result",
    "Scores",
    "SheetError",
    "TasterAssessment",
    "Verdict",
    "assess_tasters",
    "read_scores",
    "example",
    "write_report",
    "write_workbook",
]
