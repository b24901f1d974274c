"""The guide keeps up: every call is explained, every command on its pages is one that exists, every page is reached."""

import ast
import re
import shlex
from functools import cache
from importlib import import_module
from pathlib import Path

import panelstats
from panelstats.cli import _parser
from panelstats.cli.commands import COMMANDS

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "examples" / "guide"
PAGES = {path.relative_to(GUIDE).with_suffix("").as_posix(): path.read_text("utf-8")
         for path in GUIDE.rglob("*.rst") if "_made" not in path.parts}  # fmt: skip
# Where a verdict takes its call from a table or a variable: the module that names the calls, and their names.
ELSEWHERE = {
    "difference/answers/placecheck.py": "difference.answers.words: SHOWN CANNOT_TELL NOT_CHECKED",
    "difference/screening/fit.py": "difference.screening.fit: PASS FAIL",
    "difference/counts/countcalls.py": "difference.counts.forced: DIFFER MATCH CANNOT_TELL",
    "difference/comparison/fit.py": "difference.counts.forced: DIFFER CANNOT_TELL",
    "difference/ratings/fit.py": "difference.counts.forced: DIFFER MATCH CANNOT_TELL",
    "plan/session/plancalls.py": "plan.session.words: BALANCED PARTLY NOT_BALANCED",
    "lots/value/valuecalls.py": "lots.value.words: ABOVE BELOW AS_EXPECTED",
    "lots/garden/lettercalls.py": "lots.garden.words: ABOVE BELOW WITH",
    "lots/fineness/fit.py": "lots.fineness.words: RISES FALLS CANNOT_TELL",
    "lots/pots/potcalls.py": "lots.pots.potcalls: DISAGREE APART ONE_PALATE",
    "lots/compare/lotcalls.py": "lots.compare.words: DIFFER BREWS_DIFFER WITHIN",
    "lots/compare/without.py": "lots.compare.words: ORDER_CHANGES ORDER_STANDS",
    "lots/packs/packcalls.py": "lots.packs.words: FITS OVERFLOWS SLACK CANNOT_TELL",
    "lots/packs/weighed.py": "lots.packs.words: LIGHT DENSE_LOT LIKE_OTHERS CANNOT_TELL",
    "lots/track/weekcalls.py": "lots.track.words: ON CREEPING LEFT CANNOT_TELL",
    "lots/makes/makecalls.py": "lots.makes.words: WENT_WITH CAUSED WHICH CANNOT_TELL",
    "lots/maps/mapcalls.py":
        "lots.maps.words: NOTHING ONE_AXIS MAPPED DIFFERS TOGETHER APART NO_PICTURE ONE_PICTURE GOES NOT_ON_MAP",
    "lots/standard/matchcalls.py": "lots.standard.words: MATCH DIFFER",
    "panel/tasters/verdicts.py": "panel.tasters.naming: WITH APART CANNOT EACH_OTHER",
    "panel/training/words.py": "panel.training.licence: READY NOT_YET",
    "panel/season/seasonverdicts.py": "panel.season.moved: DRIFTING JUMPED MOVED",
    "panel/season/halfverdicts.py": "panel.season.words: WIDER CLOSER NOT_SHOWN CANNOT_TELL",
}  # fmt: skip
PACKAGE = Path(panelstats.__file__).parent
ANALYSES = ("lots", "panel", "difference", "plan")


def explained() -> set[str]:
    """Terms of the page of calls, taken apart at commas."""
    terms = re.findall(r"^(\S.*)\n(?=   \S)", PAGES["says"], re.MULTILINE)
    return {part.strip() for term in terms for part in (term, *term.split(","))}


@cache
def code() -> dict[Path, str]:
    """The modules of the analyses."""
    return {path: path.read_text("utf-8") for part in ANALYSES for path in (PACKAGE / part).rglob("*.py")}


@cache
def calls_in_the_code() -> tuple[set[str], set[str]]:
    """Calls that verdicts are made with, and the files in which one takes its call from elsewhere."""
    called, elsewhere = set(), set()
    for path, text in code().items():
        for made in ast.walk(ast.parse(text)) if "Verdict(" in text else ():
            if isinstance(made, ast.Call) and getattr(made.func, "id", "") == "Verdict":
                call = made.args[2] if len(made.args) > 2 else {k.arg: k.value for k in made.keywords}["call"]
                module = import_module(".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts))
                for each in (call.body, call.orelse) if isinstance(call, ast.IfExp) else (call,):
                    try:
                        called.add(str(eval(ast.unparse(each), vars(module))))  # noqa: S307
                    except NameError:
                        elsewhere.add(path.relative_to(PACKAGE).as_posix())
    return called, elsewhere


def test_every_call_of_a_verdict_is_explained():
    called, elsewhere = calls_in_the_code()
    assert len(called) > 30
    assert elsewhere <= set(ELSEWHERE), "name the calls of these files in ELSEWHERE"
    for named in ELSEWHERE.values():
        module, names = named.split(": ")
        called |= {str(getattr(import_module(f"panelstats.{module}"), name)) for name in names.split()}
    assert called - explained() == {"not checked"}  # the place of a serving not looked at is told as "cannot tell"


def test_nothing_is_explained_that_no_verdict_says():
    called, _ = calls_in_the_code()
    code = "".join(path.read_text("utf-8") for part in ANALYSES for path in (ROOT / "panelstats" / part).rglob("*.py"))
    for term in explained():
        assert term in called or f'"{term}"' in code or all(f'"{part.strip()}"' in code for part in term.split(",")), (
            term
        )


def test_every_claim_named_on_a_page_is_measured():
    table = (ROOT / "tests" / "calibration" / "rates.md").read_text("utf-8")
    asked = [each.strip() for page in PAGES.values() for line in re.findall(r"^\.\. rates:: (.*)$", page, re.MULTILINE)
             for each in line.split(",")]  # fmt: skip
    assert len(asked) > 20
    assert [each for each in asked if f"\n| {each}" not in table] == []


def test_every_command_on_the_pages_is_one_that_exists():
    blocks = [
        run for page in PAGES.values() for run in re.findall(r"^\.\. run::\n((?:   .*\n|\n)*)", page, re.MULTILINE)
    ]
    shown = [line.strip() for run in blocks for line in run.splitlines() if line.startswith("   panelstats ")]
    assert len(shown) > 15
    for line in shown:
        words = shlex.split(line)[1:]
        _parser().parse_args(words if words[0] in COMMANDS else ["session", *words])


def test_every_page_is_reached_and_every_link_leads_somewhere():
    listed = re.findall(r"^   ([a-z/]+)$", PAGES["index"], re.MULTILINE)
    assert set(listed) == set(PAGES) - {"index"}
    for name, page in PAGES.items():
        for target in re.findall(r":doc:`(?:[^`<]*<)?([^`>]+)>?`", page):
            assert (GUIDE / name).parent.joinpath(f"{target}.rst").resolve().exists(), (name, target)
