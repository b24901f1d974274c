"""Dates and numbered sittings in labels, with or without a year."""

from __future__ import annotations

import datetime as dt
import re

from panelstats.scores.spelling import natural, plain, tidy

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = rf"({'|'.join(_MONTHS)})[a-z]*"
_ISO = re.compile(r"(\d{4})[-_./]?(\d{2})[-_./]?(\d{2})")
_NUMERIC = re.compile(r"(\d{1,2})[-_./](\d{1,2})[-_./](\d{4}|\d{2})")
_NAMED = re.compile(
    rf"(\d{{1,2}})[-_. ]?{_MONTH}[-_., ]*(\d{{4}}|\d{{2}})?|{_MONTH}[-_. ]?(\d{{1,2}})(?:[-_., ]+(\d{{4}}))?"
)
_SITTING = re.compile(r"\b(?:week|wk|sale|session|sitting|day)[-_ ]?(?:no\.?[-_ ]?)?\d{1,4}\b", re.IGNORECASE)
_SHORT = re.compile(r"(?:0?[1-9]|[12]\d|3[01])[-./ ](?:0?[1-9]|[12]\d|3[01])\.?")
_PART = re.compile(r"\b(?:morning|afternoon|evening|[ap]m)\b")
_WEEKDAY = re.compile(r"\b(?:mon|tue|tues|wed|wednes|thu|thur|thurs|fri|sat|satur|sun)(?:day)?\b\.?", re.IGNORECASE)


def date_in(label: str, *, month_first: bool = False) -> dt.date | None:
    """The date a label holds, None where it holds none; without a year, the year 1.

    Examples
    --------
    >>> date_in("row 2024-03-01"), date_in("1 March 2024"), date_in("01/03/2024"), date_in("week 14")
    (datetime.date(2024, 3, 1), datetime.date(2024, 3, 1), datetime.date(2024, 3, 1), None)
    """
    text = plain(label)
    try:
        if found := _ISO.search(text):
            return dt.date(*map(int, found.groups()))
        if found := _NUMERIC.search(text):
            day, month, year = map(int, found.groups())
            if month_first:
                day, month = month, day
            return dt.date(year + 2000 * (year < 100), month, day)
        if found := _NAMED.search(text):
            number, name, written = (found[1], found[2], found[3]) if found[1] else (found[5], found[4], found[6])
            short = int(written or 1)
            return dt.date(short + 2000 * (1 < short < 100), _MONTHS.index(name) + 1, int(number))
    except ValueError:
        return None
    return None


def day_before(text: str, other: str) -> bool:
    """Whether the day of a text lies before that of another, as far as both hold one with its year.

    Examples
    --------
    >>> day_before("2026-04-16", "2026-04-17"), day_before("2026-04-17 15:00", "2026-04-17")
    (True, False)
    >>> day_before("", "2026-04-17"), day_before("after lunch", "17 April")
    (False, False)
    """
    first, last = date_in(text), date_in(other)
    return first is not None and last is not None and min(first.year, last.year) > 1 and first < last


def label_parts(label: str) -> tuple[str, str]:
    """The sitting that the name of a sheet or file tells (a date, a weekday, a number), and what else it says.

    Examples
    --------
    >>> label_parts("alder 2024-03-01"), label_parts("Week 14"), label_parts("03-06"), label_parts("beech")
    (('2024-03-01', 'alder'), ('Week 14', ''), ('03-06', ''), ('', 'beech'))
    """
    text = tidy(label)
    date = date_in(text)
    found = next((m for p in (_ISO, _NUMERIC, _NAMED) if date and (m := p.search(text.casefold()))), None)
    if found:
        rest = tidy(re.sub(r"[-_.,]+", " ", _WEEKDAY.sub("", text[: found.start()] + " " + text[found.end() :])))
        written = text[found.start() : found.end()].strip(" -_.,")
        return (date.isoformat() if date and date.year > 1 else written), rest
    if _SHORT.fullmatch(text) or _WEEKDAY.fullmatch(text):
        return text, ""
    if found := _SITTING.search(text.replace("_", " ")):
        rest = tidy(re.sub(r"[-_.,]+", " ", f"{text[: found.start()]} {text[found.end() :]}"))
        return (text[found.start() : found.end()], rest) if rest else (text, "")
    return "", text


def session_order(labels: list[str]) -> list[str]:
    """Session labels by date where all have one, else in natural order."""
    first = month_first(labels)
    dates = {label: date_in(label, month_first=first) for label in labels}
    if labels and all(dates.values()):
        return sorted(labels, key=lambda label: (dates[label], natural(label)))
    return sorted(labels, key=natural)


def month_first(labels: list[str]) -> bool:
    """Whether dates such as 3/14/2024 show that the month stands first."""
    pairs = [m for m in (_NUMERIC.fullmatch(plain(label)) for label in labels) if m]
    return any(int(m[2]) > 12 for m in pairs) and not any(int(m[1]) > 12 for m in pairs)


def same_dates(labels: list[str]) -> dict[str, str]:
    """Dates written two ways become one, as year-month-day; nothing changes where one way is used."""
    first = month_first(labels)
    dates = {label: date_in(label, month_first=first) for label in labels if label}
    if not dates or not all(d and d.year > 1 for d in dates.values()):
        return {}
    styles = {re.sub(r"\d+", "0", label) for label in dates}
    if len(styles) < 2 or any(map(_PART.search, map(plain, dates))):  # mornings and afternoons stay apart
        return {}
    return {label: d.isoformat() for label, d in dates.items() if d}


def is_sitting(label: str) -> bool:
    """Whether a label is a numbered sitting, such as `week 14` or `Sale 3`."""
    return bool(_SITTING.search(plain(label)))


_GENERIC = re.compile(
    r"(?:sheet|tabelle|feuil|feuille|hoja|foglio|blad|planilha|folha|工作表|シート|data|scores?|table|dataframe|export|"
    r"book|results?|tasting|tastings|form|responses?|form responses)\s*\d*(?:\s*\(\d+\))?|"
)


def is_day(label: str) -> bool:
    """Whether a label tells a sitting: a date, a weekday, or a numbered one."""
    return bool(date_in(label)) or bool(_WEEKDAY.fullmatch(tidy(label))) or is_sitting(label)


def is_generic(label: str) -> bool:
    """Whether a sheet or file bears a name that says nothing: a spreadsheet's own, or a word such as `scores`."""
    return bool(_GENERIC.fullmatch(plain(label)))
