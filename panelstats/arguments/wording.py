"""Rules for words and names: one of a few, or one that the scores know."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from panelstats.arguments.refusal import Rule, labels_of, offered, refuse, unknown


def one_of(*words: str) -> Rule:
    """One of a few words."""

    def judge(name: str, value: object, _: object = None) -> None:
        if not isinstance(value, str) or value not in words:
            refuse(f"{name} is an unknown word", name, value, f"use one of {', '.join(words)}")

    return judge


def _is_text(value: object) -> bool:
    """Text of whole signs: bytes of a name that are none stand in it as halves, which no file can hold."""
    return isinstance(value, str) and not any("\ud800" <= sign <= "\udfff" for sign in value)


def text(name: str, value: object, _: object = None) -> None:
    """Text."""
    if not _is_text(value):
        refuse(f"{name} is no text", name, value, "give text in quotes")


def texts(name: str, value: object, _: object = None) -> None:
    """A list of texts; one text alone is no list."""
    if isinstance(value, str) or not isinstance(value, Collection) or not all(map(_is_text, value)):
        refuse(f"{name} is no list of names", name, value, "give a list of texts")


def listed(name: str, value: object, _: object = None) -> None:
    """A list of anything; text is none."""
    if isinstance(value, str | Mapping) or not isinstance(value, Collection):
        refuse(f"{name} is no list", name, value, "give a list")


def counted_tests(name: str, value: object, _: object = None) -> None:
    """Tests as (kind, right answers, answers)."""
    listed(name, value)
    for at, each in enumerate(value):  # type: ignore[var-annotated, arg-type]
        if isinstance(each, str) or not isinstance(each, Collection) or len(each) != 3:
            refuse("a test is its kind and two counts", f"{name}[{at}]", each, 'give ("triangle", 12, 30)')


def switch(name: str, value: object, _: object = None) -> None:
    """True or False."""
    if not isinstance(value, bool):
        refuse(f"{name} is a yes or no", name, value, "give True or False")


def pots(name: str, value: object, given: Mapping[str, object]) -> None:
    """shared, own or same; or one of them for each stage named."""
    words = value if isinstance(value, Mapping) else {None: value}
    stages = labels_of(given.get("scores"), "pots", "stage")
    for stage, word in words.items():
        if stage is not None and stages and stage not in stages:
            unknown("stage", f"{name}={{{stage!r}: ...}}", stage, stages)
        if not isinstance(word, str) or word not in ("shared", "own", "same"):
            refuse("pots are shared, own or same", name, word, "use one of the three words")


def known(table: str, column: str) -> Rule:
    """A name, or names, of a column of one of the tables that came with the scores."""

    def judge(name: str, value: object, given: Mapping[str, object]) -> None:
        names = [value] if isinstance(value, str) or not isinstance(value, Collection) else list(value)
        labels = labels_of(given.get("scores"), table, column)
        if not labels and hasattr(given.get("scores"), table):
            refuse(f"no {column} is known", name, value, f"write a column {column} in the register {table}")
        for each in names:
            if not isinstance(each, str):
                refuse(f"a {column} is named by text", name, each, f"use one of {offered(labels)}")
            if each not in labels:
                unknown(column, f"{name}={each!r}", each, labels)

    return judge


def lot_columns(name: str, value: object, given: Mapping[str, object]) -> None:
    """Columns of the lots register, one or several."""
    names = [value] if isinstance(value, str) else value
    listed(name, names)
    register = getattr(given.get("scores"), "lots", None)
    known_columns = (
        [] if register is None else [str(each) for each in register.columns if each not in ("lot", "written")]
    )
    if not names:
        refuse("no column is named", name, value, f"use some of {offered(known_columns)}")
    for each in names:  # type: ignore[attr-defined]
        if each not in known_columns:
            unknown("column in the lots register", f"{name}={each!r}", each, known_columns)


def headings(name: str, value: object, _: object = None) -> None:
    """Their heading -> our word, or None to leave the column out."""
    pairs = value.items() if isinstance(value, Mapping) else None
    if pairs is None or not all(isinstance(k, str) and (v is None or isinstance(v, str)) for k, v in pairs):
        refuse(f"{name} maps no headings", name, value, 'give {"their heading": "our word"}')
