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
