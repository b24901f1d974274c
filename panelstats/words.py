"""Numbers and counts as a reader wants them: no digit that the uncertainty does not carry."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING

from panelstats.speech import Phrase, digits, noun

if TYPE_CHECKING:
    from collections.abc import Iterable

MINUS, DASH = "−", "–"
NO_LIMIT, FROM_TO, AND = Phrase("no limit"), Phrase("{low} to {high}"), Phrase("{most} and {last}")
_MOST_DECIMALS = 4


def settled(value: float, digits: int = 10) -> float:
    """A number without its last digits, in which processors differ; what lies half way between two is so again.

    Examples
    --------
    >>> settled(0.1 + 0.2), settled(2.7499999999999996)
    (0.3, 2.75)
    """
    return float(f"{value:.{digits}g}")


def decimals(se: float) -> int:
    """Decimals to show of a number whose standard error is `se`.

    The last digit shown is worth at most one standard error, so rounding moves the number by at most half of one
    (in the spirit of JCGM 100:2008, 7.2.6: no digit beyond the uncertainty).

    Parameters
    ----------
    se : float
        Standard error, in the unit of the number. Unknown, zero or infinite: 2 decimals.

    Examples
    --------
    >>> [decimals(se) for se in (2.0, 0.4, 0.05)]
    [0, 1, 2]
    """
    if not math.isfinite(se) or se <= 0:
        return 2
    return min(max(math.ceil(-math.log10(se) - 1e-9), 0), _MOST_DECIMALS)


def number(value: float, places: int, *, sign: bool = False) -> str:
    """A number with so many decimals, a true minus sign, and no "-0.0".

    Parameters
    ----------
    value : float
        NaN is an en dash: nothing there; an infinite limit reads "no limit".
    places : int
        Decimals shown.
    sign : bool
        Show the plus sign too.

    Examples
    --------
    >>> number(-0.04, 1), number(1.25, 1, sign=True), number(float("inf"), 1)
    ('0.0', '+1.2', 'no limit')
    """
    if math.isnan(value):
        return DASH
    if math.isinf(value):
        return str(NO_LIMIT)
    value = settled(value)
    text = f"{value:+,.{places}f}" if sign else f"{value:,.{places}f}"
    if not text.strip("+-0.,"):
        text = text.lstrip("+-")
    return digits(text.replace("-", MINUS))


def stated(value: float, spec: str = "g") -> str:
    """A number that is given rather than estimated, such as a tolerance, by a format of Python; no number as `number`.

    Examples
    --------
    >>> stated(0.5), stated(-1.25, ".3g"), stated(2_000_000.0), stated(0.000025)
    ('0.5', '−1.25', '2,000,000', '0.000025')
    """
    if not math.isfinite(value):
        return number(value, 0)
    text = format(value, spec)
    if "e" in text:  # nobody writes a tolerance so
        text = format(Decimal(text), ",f")
    return digits(text.replace("-", MINUS))


def p_value(p: float) -> str:
    """A p-value: two digits where it decides, a bound where it is small.

    Examples
    --------
    >>> p_value(0.0004), p_value(0.0312), p_value(0.41)
    ('< 0.001', '0.031', '0.41')
    """
    if math.isnan(p):
        return DASH
    p = settled(p)
    if p < 0.001:
        return digits("< 0.001")
    return digits(f"{p:.3f}" if p < 0.1 else f"{p:.2f}")


def percent(share: float) -> str:
    """A share as whole percent, never rounded to none or to all; NaN and infinite ones as for `number`.

    Examples
    --------
    >>> percent(0.004), percent(0.62), percent(1.0), percent(-0.0)
    ('< 1 %', '62 %', '100 %', '0 %')
    """
    share = settled(share, 12)
    if 0 < share < 0.01:
        return "< 1 %"
    if 0.99 < share < 1:
        return "> 99 %"
    return _hundredths(number(100 * share, 0))


def stated_percent(share: float) -> str:
    """A share that is given rather than estimated, such as a level or a risk, as percent.

    Examples
    --------
    >>> stated_percent(0.95), stated_percent(0.999)
    ('95 %', '99.9 %')
    """
    return f"{stated(100 * share)} %"


def limit(value: float, places: int, *, up: bool, clear: Iterable[float] = (), sign: bool = False) -> str:
    """A limit of an interval, rounded outward; more decimals where it would touch or cross a line it keeps clear of.

    Parameters
    ----------
    value : float
        NaN and infinite ones as for `number`.
    places : int
        Decimals shown, unless a line asks for more (4 at most).
    up : bool
        Whether it is the upper limit.
    clear : iterable of float
        Lines the verdict rests on, such as 0 or a tolerance.
    sign : bool
        Show the plus sign too.

    Examples
    --------
    >>> limit(0.96, 1, up=True), limit(0.96, 1, up=True, clear=[1.0]), limit(0.04, 1, up=False, clear=[0.0])
    ('1.0', '0.96', '0.04')
    """
    if not math.isfinite(value):
        return number(value, places, sign=sign)
    value = settled(value)
    lines = [line for line in clear if math.isfinite(line) and line != value]
    for shown in range(places, _MOST_DECIMALS + 1):
        scaled = value * 10**shown
        rounded = (math.ceil(scaled - 1e-9) if up else math.floor(scaled + 1e-9)) / 10**shown
        if all((rounded - line) * (value - line) > 0 for line in lines):
            break
    return number(rounded, shown, sign=sign)


def percent_limit(share: float, *, up: bool, clear: Iterable[float] = ()) -> str:
    """A limit of a share in percent, rounded as `limit` does.

    Examples
    --------
    >>> percent_limit(0.2985, up=True), percent_limit(0.2985, up=True, clear=[0.3]), percent_limit(0.07, up=False)
    ('30 %', '29.9 %', '7 %')
    """
    return _hundredths(limit(100 * share, 0, up=up, clear=[100 * line for line in clear]))


def _hundredths(told: str) -> str:
    """A number with its sign for percent; what is no number has none."""
    return told if told in (DASH, str(NO_LIMIT)) else f"{told} %"


def interval(low: float, high: float, places: int, *, sign: bool = False) -> str:
    """An interval in words: "0.4 to 1.6".

    Examples
    --------
    >>> interval(-0.4, 1.6, 1)
    '−0.4 to 1.6'
    """
    return FROM_TO.format(low=number(low, places, sign=sign), high=number(high, places, sign=sign))


def sized(value: float, low: float, high: float) -> dict[str, str]:
    """A difference and its interval, signed, with the decimals that the interval carries: fields of a sentence.

    Examples
    --------
    >>> sized(0.512, 0.2, 0.82)
    {'difference': '+0.5', 'interval': '+0.2 to +0.8'}
    """
    places = max(1, decimals((high - low) / 4))
    return {"difference": number(value, places, sign=True), "interval": interval(low, high, places, sign=True)}


def span(values: Iterable[float], places: int) -> str:
    """From the smallest to the largest; one number where they read alike.

    Examples
    --------
    >>> span([1.02, 1.41, 1.2], 1), span([1.02, 1.04], 1)
    ('1.0 to 1.4', '1.0')
    """
    some = list(values)
    ends = [number(end, places) for end in (min(some), max(some))]
    return ends[0] if ends[0] == ends[1] else FROM_TO.format(low=ends[0], high=ends[1])


def count(n: int, one: str, many: str = "") -> str:
    """A count with its noun.

    Examples
    --------
    >>> count(1, "lot"), count(1200, "lot"), count(2, "class", "classes")
    ('1 lot', '1,200 lots', '2 classes')
    """
    return f"{digits(f'{n:,}')} {noun(n, one, many or one + 's')}"


def capital(words: str) -> str:
    """Words as a sentence begins: the first letter large, the others as they are.

    Examples
    --------
    >>> capital("cannot tell"), capital("")
    ('Cannot tell', '')
    """
    told = str(words)  # of a phrase a slice would be English in every language
    return told[:1].upper() + told[1:]


def listing(items: Iterable[object]) -> str:
    """Items as a reader lists them.

    Examples
    --------
    >>> listing(["strength", "colour", "body"])
    'strength, colour and body'
    """
    names = [str(item) for item in items]
    if len(names) < 2:
        return "".join(names)
    return AND.format(most=", ".join(names[:-1]), last=names[-1])


def shortened(items: Iterable[object], most: int, thing: str = "") -> list[str]:
    """The first of many items and how many more there are; one more than `most` is told too.

    Examples
    --------
    >>> shortened("abcde", 3), shortened("abcd", 3), shortened("abcde", 3, "lot")
    (['a', 'b', 'c', '2 more'], ['a', 'b', 'c', 'd'], ['a', 'b', 'c', '2 lots more'])
    """
    names = [str(item) for item in items]
    left = len(names) - most
    if left < 2:
        return names
    return [*names[:most], Phrase("{n} more").format(n=count(left, thing) if thing else left)]


def column_letters(column: int) -> str:
    """The letters a spreadsheet gives a column, counted from 0.

    Examples
    --------
    >>> column_letters(0), column_letters(27)
    ('A', 'AB')
    """
    text = ""
    column += 1
    while column:
        column, digit = divmod(column - 1, 26)
        text = chr(65 + digit) + text
    return text
