"""The one check of arguments: a word means the same in every public function, is judged and described by its name."""

from __future__ import annotations

import inspect
from functools import wraps
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from panelstats.arguments.described import described
from panelstats.arguments.rules import RULES

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.arguments.refusal import Rule

P = ParamSpec("P")
R = TypeVar("R")


def checked(**own: Rule) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Judge the arguments of a public function before it runs: each by the rule of its name, or by one of its `own`.

    An argument left at its default is not judged; None passes where it is the default. What the docstring leaves out
    because it means what it always means (`described.USUAL`) is written into it.

    Examples
    --------
    >>> from panelstats.arguments.wording import one_of
    >>> @checked(adjust=one_of("tukey", "holm"))
    ... def intervals(*, level=0.95, adjust="tukey"):
    ...     return level
    >>> intervals(level=95)
    Traceback (most recent call last):
    panelstats.errors.DesignError: level is not a probability
      where: level=95
      do:    give a number between 0 and 1, such as 0.95
    """

    def decorated(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)
        parameters = signature.parameters
        rules = {name: own.get(name, RULES.get(name)) for name in parameters}
        optional = {name for name, parameter in parameters.items() if parameter.default is None}

        @wraps(function)
        def judged(*args: P.args, **kwargs: P.kwargs) -> R:
            given = dict(zip(parameters, args, strict=False)) | kwargs
            for name, value in given.items():
                rule = rules.get(name)
                if rule is not None and not (value is None and name in optional):
                    rule(name, value, given)
            return function(*args, **kwargs)

        judged.__doc__ = described(function.__doc__ or "", list(parameters), signature.return_annotation)
        return judged

    return decorated
