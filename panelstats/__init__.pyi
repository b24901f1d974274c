from . import example as example
from .errors import DesignError as DesignError
from .errors import PanelError as PanelError
from .errors import SheetError as SheetError
from .lots.comparison import LotComparison as LotComparison
from .lots.comparison import compare_lots as compare_lots
from .lots.faults import FaultsNoticed as FaultsNoticed
from .lots.faults import faults_noticed as faults_noticed
from .panel.agreement import PanelAgreement as PanelAgreement
from .panel.agreement import panel_agreement as panel_agreement
from .panel.tasters import TasterAssessment as TasterAssessment
from .panel.tasters import assess_tasters as assess_tasters
from .report.room import write_report as write_report
from .report.workbook import write_workbook as write_workbook
from .result import Act as Act
from .result import Estimate as Estimate
from .result import Result as Result
from .result import Verdict as Verdict
from .review import Review as Review
from .review import review_session as review_session
from .scores.cells import Cells as Cells
from .scores.read import read_scores as read_scores
from .scores.table import Scores as Scores

__all__ = [
    "Act",
    "Cells",
    "DesignError",
    "Estimate",
    "FaultsNoticed",
    "LotComparison",
    "PanelAgreement",
    "PanelError",
    "Result",
    "Review",
    "Scores",
    "SheetError",
    "TasterAssessment",
    "Verdict",
    "assess_tasters",
    "compare_lots",
    "example",
    "faults_noticed",
    "panel_agreement",
    "read_scores",
    "review_session",
    "write_report",
    "write_workbook",
]
