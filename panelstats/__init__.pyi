from . import example as example
from .catalogues import language as language
from .difference.answers.fit import judge_answers as judge_answers
from .difference.answers.tables import JudgedAnswers as JudgedAnswers
from .difference.comparison.fit import Comparison as Comparison
from .difference.comparison.fit import compare_same_tasters as compare_same_tasters
from .difference.comparison.fit import compare_tests as compare_tests
from .difference.counts.fit import difference_test as difference_test
from .difference.counts.fit import match_test as match_test
from .difference.counts.tables import DifferenceTest as DifferenceTest
from .difference.planning.fit import AnswersNeeded as AnswersNeeded
from .difference.planning.fit import answers_needed as answers_needed
from .difference.ratings.fit import RatedDifference as RatedDifference
from .difference.ratings.fit import difference_from_control as difference_from_control
from .difference.repeated.fit import RepeatedTest as RepeatedTest
from .difference.repeated.fit import repeated_test as repeated_test
from .difference.screening.fit import Screening as Screening
from .difference.screening.fit import screen_trainee as screen_trainee
from .errors import DesignError as DesignError
from .errors import PanelError as PanelError
from .errors import SheetError as SheetError
from .lots.blends.fit import BlendRecipes as BlendRecipes
from .lots.blends.fit import suggest_blends as suggest_blends
from .lots.buyer.fit import LotProfiles as LotProfiles
from .lots.buyer.fit import describe_lots as describe_lots
from .lots.compare.fit import LotComparison as LotComparison
from .lots.compare.fit import compare_lots as compare_lots
from .lots.compare.without import WithoutPots as WithoutPots
from .lots.faults.fit import FaultsNoticed as FaultsNoticed
from .lots.faults.fit import faults_noticed as faults_noticed
from .lots.fineness.fit import GradeTrend as GradeTrend
from .lots.fineness.fit import grade_trend as grade_trend
from .lots.garden.fit import GardenLetter as GardenLetter
from .lots.garden.fit import garden_letter as garden_letter
from .lots.makes.fit import MakeEffects as MakeEffects
from .lots.makes.fit import compare_makes as compare_makes
from .lots.maps.fit import LotMap as LotMap
from .lots.maps.fit import map_lots as map_lots
from .lots.packs.fit import PackFit as PackFit
from .lots.packs.fit import fit_pack as fit_pack
from .lots.packs.weighed import LotDensities as LotDensities
from .lots.packs.weighed import weigh_lots as weigh_lots
from .lots.pots.fit import PotCheck as PotCheck
from .lots.pots.fit import check_pots as check_pots
from .lots.roomerror.fit import RoomError as RoomError
from .lots.roomerror.fit import room_error as room_error
from .lots.shortlist.fit import Shortlist as Shortlist
from .lots.shortlist.fit import shortlist_lots as shortlist_lots
from .lots.standard.fit import StandardMatch as StandardMatch
from .lots.standard.fit import match_standard as match_standard
from .lots.track.fit import StandardTrack as StandardTrack
from .lots.track.fit import track_standard as track_standard
from .lots.value.fit import ValueFound as ValueFound
from .lots.value.fit import explain_value as explain_value
from .panel.agreement.fit import PanelAgreement as PanelAgreement
from .panel.agreement.fit import panel_agreement as panel_agreement
from .panel.agreement.kappa import weighted_kappa as weighted_kappa
from .panel.season.fit import SeasonAudit as SeasonAudit
from .panel.season.fit import audit_season as audit_season
from .panel.tasters.fit import TasterAssessment as TasterAssessment
from .panel.tasters.fit import assess_tasters as assess_tasters
from .panel.training.fit import TraineeAssessment as TraineeAssessment
from .panel.training.fit import assess_trainees as assess_trainees
from .plan.blank.back import read_plan as read_plan
from .plan.plates.fit import plan_difference as plan_difference
from .plan.plates.plateplan import PlatePlan as PlatePlan
from .plan.session.change import change_plan as change_plan
from .plan.session.fit import plan_session as plan_session
from .plan.session.servingplan import ServingPlan as ServingPlan
from .questions.aboutanswers import review_answers as review_answers
from .questions.aboutanswers import review_packs as review_packs
from .questions.aboutgardens import review_garden as review_garden
from .questions.aboutpeople import review_season as review_season
from .questions.aboutpeople import review_tasters as review_tasters
from .questions.aboutpeople import review_trainees as review_trainees
from .questions.aboutplaces import review_map as review_map
from .questions.aboutsales import review_recipes as review_recipes
from .questions.aboutsales import review_summary as review_summary
from .questions.aboutsales import review_value as review_value
from .questions.aboutsessions import review_session as review_session
from .questions.aboutstandards import review_blends as review_blends
from .report.draw import draw as draw
from .report.pages.handed import write_sheets as write_sheets
from .report.pages.page import write_report as write_report
from .report.pages.page import write_summary as write_summary
from .report.pages.taster import write_taster_page as write_taster_page
from .report.workbook import write_workbook as write_workbook
from .result import Act as Act
from .result import Chart as Chart
from .result import Estimate as Estimate
from .result import Mark as Mark
from .result import Result as Result
from .result import Row as Row
from .result import Verdict as Verdict
from .review import Review as Review
from .scores.cells import Cells as Cells
from .scores.table import Scores as Scores
from .sheets.reading.answers import answers_in as answers_in
from .sheets.reading.answers import read_answers as read_answers
from .sheets.reading.answers import read_densities as read_densities
from .sheets.reading.answers import read_stock as read_stock
from .sheets.reading.examination import Examination as Examination
from .sheets.reading.examination import View as View
from .sheets.reading.examination import examine_sheets as examine_sheets
from .sheets.reading.read import read_scores as read_scores
from .sheets.reading.remember import write_answers as write_answers
from .sheets.reading.start import write_room as write_room
from .sheets.reading.start import write_starter as write_starter
from .sheets.reading.stream import read_cells as read_cells

__all__ = [
    "Act",
    "AnswersNeeded",
    "BlendRecipes",
    "Cells",
    "Chart",
    "Comparison",
    "DesignError",
    "DifferenceTest",
    "Estimate",
    "Examination",
    "FaultsNoticed",
    "GardenLetter",
    "GradeTrend",
    "JudgedAnswers",
    "LotComparison",
    "LotDensities",
    "LotMap",
    "LotProfiles",
    "MakeEffects",
    "Mark",
    "PackFit",
    "PanelAgreement",
    "PanelError",
    "PlatePlan",
    "PotCheck",
    "RatedDifference",
    "RepeatedTest",
    "Result",
    "Review",
    "RoomError",
    "Row",
    "Scores",
    "Screening",
    "SeasonAudit",
    "ServingPlan",
    "SheetError",
    "Shortlist",
    "StandardMatch",
    "StandardTrack",
    "TasterAssessment",
    "TraineeAssessment",
    "ValueFound",
    "Verdict",
    "View",
    "WithoutPots",
    "answers_in",
    "answers_needed",
    "assess_tasters",
    "assess_trainees",
    "audit_season",
    "change_plan",
    "check_pots",
    "compare_lots",
    "compare_makes",
    "compare_same_tasters",
    "compare_tests",
    "describe_lots",
    "difference_from_control",
    "difference_test",
    "draw",
    "examine_sheets",
    "example",
    "explain_value",
    "faults_noticed",
    "fit_pack",
    "garden_letter",
    "grade_trend",
    "judge_answers",
    "language",
    "map_lots",
    "match_standard",
    "match_test",
    "panel_agreement",
    "plan_difference",
    "plan_session",
    "read_answers",
    "read_cells",
    "read_densities",
    "read_plan",
    "read_scores",
    "read_stock",
    "repeated_test",
    "review_answers",
    "review_blends",
    "review_garden",
    "review_map",
    "review_packs",
    "review_recipes",
    "review_season",
    "review_session",
    "review_summary",
    "review_tasters",
    "review_trainees",
    "review_value",
    "room_error",
    "screen_trainee",
    "shortlist_lots",
    "suggest_blends",
    "track_standard",
    "weigh_lots",
    "weighted_kappa",
    "write_answers",
    "write_report",
    "write_room",
    "write_sheets",
    "write_starter",
    "write_summary",
    "write_taster_page",
    "write_workbook",
]
