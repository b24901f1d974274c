"""What a public function takes and returns is told, and can be named."""

import inspect
import re

import panelstats as pst

# Types of other libraries that public functions return.
ELSEWHERE = {"AbstractContextManager", "Path", "DataFrame", "Axes", "None"}


def test_what_public_functions_return_can_be_named():
    for name in pst.__all__:
        function = getattr(pst, name)
        if inspect.isfunction(function):
            returned = set(re.findall(r"[A-Z]\w*", str(inspect.signature(function).return_annotation)))
            assert returned - ELSEWHERE <= set(pst.__all__), name


def test_help_tells_of_every_parameter_and_of_what_is_returned():
    for name in pst.__all__:
        function = getattr(pst, name)
        if inspect.isfunction(function):
            told = inspect.getdoc(function)
            entries = re.search(r"\nParameters\n-+\n(.*?)\n\n", told, re.DOTALL)[1]
            named = [
                each
                for line in re.findall(r"^(\S.*)$", entries, re.MULTILINE)
                for each in line.split(" : ")[0].split(", ")
            ]
            assert sorted(named) == sorted(inspect.signature(function).parameters), name
            assert "\nReturns\n-------\n" in told or "-> None" in str(inspect.signature(function)), name


# What is taken where nothing is said: 19 of 20, one seed, and the numbers that the sources of the methods use.
USUAL = {
    "level": 0.95, "error": 0.05, "match_error": 0.05, "false_alarm": 0.05, "wrong_pass": 0.05, "wrong_fail": 0.1,
    "power": 0.8, "seed": 0, "true_d": 0.0, "fail_share": 0.0, "baseline": 8, "searches": 1, "shuffles": 999,
    "resamples": 999, "blanks": 0, "shared_pots": False, "fill": 0.9, "allowed": 0.01, "besides": True, "joined": False,
    "fill_in": False, "trials": 1, "pots_per_lot": 1, "repeats": 0, "every": 25, "set_aside": False, "overwrite": False,
    "weeks": 40, "least_share": 0.02, "zeros": True, "charge_cv": 0.0, "capacity_cv": 0.0,
}  # fmt: skip


def test_what_is_taken_where_nothing_is_said_is_the_same_everywhere():
    met = set()
    for name in pst.__all__:
        function = getattr(pst, name)
        if inspect.isfunction(function):
            for each in inspect.signature(function).parameters.values():
                if isinstance(each.default, int | float) and (name, each.name) != ("compare_same_tasters", "answers"):
                    assert (each.default, type(each.default)) == (USUAL[each.name], type(USUAL[each.name])), name
                    met.add(each.name)
    assert met == set(USUAL)
