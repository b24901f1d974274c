"""Every type that a public function returns is public itself."""

import inspect
import re

import panelstats as pst

# Types of other libraries that public functions return.
ELSEWHERE = {"Path", "DataFrame", "Axes", "None"}


def test_what_public_functions_return_can_be_named():
    for name in pst.__all__:
        function = getattr(pst, name)
        if inspect.isfunction(function):
            returned = set(re.findall(r"[A-Z]\w*", str(inspect.signature(function).return_annotation)))
            assert returned - ELSEWHERE <= set(pst.__all__), name
