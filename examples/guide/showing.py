"""What the pages of the guide show: commands run, pages photographed, methods and measured rates read out."""

import contextlib
import inspect
import io
import re
import shlex

from docutils import nodes
from docutils.parsers.rst import Directive, directives
from docutils.statemachine import StringList
from room import HERE, MADE, ROOM, command, furnish, photograph, photograph_desk

import panelstats as pst
from panelstats.sheets.checks.check import ACTIONS

RATES = HERE.parents[1] / "tests" / "calibration" / "rates.md"
# Lines of the table of rates that a page of methods shows, the worst first; the whole table has a page.
FEW = 6


class Run(Directive):
    """A command: run in the room, shown with what it says."""

    has_content = True
    option_spec = {"quiet": directives.flag, "ends": directives.nonnegative_int}  # noqa: RUF012

    def run(self):
        """Run each line; the last one's words are shown."""
        lines = list(self.content)
        for line in lines:
            said = command(shlex.split(line), expect=self.options.get("ends", 0))
        shown = [_literal("\n".join(lines), "sh")]
        return shown if "quiet" in self.options else [*shown, _literal(said, "text")]


class Page(Directive):
    """A page that a command has written, as a browser shows it."""

    required_arguments = 1
    final_argument_whitespace = True
    option_spec = {"alt": directives.unchanged_required, "width": int, "height": int}  # noqa: RUF012

    def run(self):
        """Photograph it; the picture stands under its own name."""
        source = self.arguments[0]
        picture = MADE / "pictures" / (re.sub(r"\W+", "-", source) + ".png")
        size = {"width": self.options.get("width", 1100), "height": self.options.get("height", 900)}
        if source == "the desk":
            photograph_desk(picture, **size)
        elif (ROOM / source).exists():
            photograph((ROOM / source).as_uri(), picture, **size)
        else:
            raise self.error(f"no command of this page wrote {source}")
        return [nodes.image(uri=f"/{picture.relative_to(HERE)}", alt=self.options["alt"], classes=["page"])]


class Python(Directive):
    """Lines of Python that a build runs, shown."""

    has_content = True

    def run(self):
        """Run them in the room; nothing they print is shown."""
        with contextlib.chdir(ROOM), contextlib.redirect_stdout(io.StringIO()) as said:
            exec("\n".join(self.content), {})  # noqa: S102 - the pages of this repository
        shown = [_literal("\n".join(self.content), "python")]
        return [*shown, _literal(said.getvalue().rstrip(), "text")] if said.getvalue() else shown


class Method(Directive):
    """What a result says of its own method, in the words that its page carries."""

    required_arguments = 1
    final_argument_whitespace = True

    def run(self):
        """Evaluate the expression in the room; quote its method."""
        with contextlib.chdir(ROOM):
            found = eval(self.arguments[0], {"pst": pst})  # noqa: S307 - the pages of this repository
        quote = nodes.block_quote(classes=["own-words"])
        quote += nodes.paragraph(text=found.method)
        return [quote]


class Rates(Directive):
    """Measured rates of claims: those that begin so, the worst first; without an argument all of them."""

    optional_arguments = 1
    final_argument_whitespace = True

    def run(self):
        """Read the table that the trials wrote."""
        rows = measured()
        asked = [each.strip() for each in self.arguments[0].split(",")] if self.arguments else []
        mine = [row for row in rows if not asked or any(row["claim"].startswith(each) for each in asked)]
        if not mine:
            raise self.error(f"no measured rate of {asked}")
        held = sum(row["holds"] == "holds" for row in mine)
        near = sum(row["holds"] == "within error" for row in mine)
        shown = mine if not asked else mine[:FEW]
        told = (
            f"Measured in {len(mine)} rooms and claims: {held} hold, {near} lie within the error of the trials, "
            f"{len(mine) - held - near} are known not to hold and are named where they matter. "
            + ("The worst:" if asked else "The worst first:")
        )
        return [nodes.paragraph(text=told), _table(shown)]


class Reasons(Directive):
    """What a problem cell is called, and what to do about it: as the reader says it."""

    def run(self):
        """A term for each reason."""
        listed = nodes.definition_list()
        for reason, action in ACTIONS.items():
            item = nodes.definition_list_item()
            item += nodes.term(text=str(reason))
            meaning = nodes.definition()
            meaning += nodes.paragraph(text=f"{str(action)[:1].upper()}{str(action)[1:]}.")
            item += meaning
            listed += item
        return [listed]


class Reference(Directive):
    """Everything public, from its docstrings: functions, or types."""

    required_arguments = 1

    def run(self):
        """An entry for each name."""
        kinds = {"functions": inspect.isfunction, "types": inspect.isclass, "modules": inspect.ismodule}
        wanted = kinds[self.arguments[0]]
        names = [name for name in pst.__all__ if wanted(getattr(pst, name))]
        how = {"functions": "autofunction", "types": "autoclass", "modules": "automodule"}[self.arguments[0]]
        members = ["   :members:"] if how == "automodule" else []
        lines = [line for name in names for line in (f".. {how}:: panelstats.{name}", *members, "")]
        box = nodes.section()
        box.document = self.state.document
        self.state.nested_parse(StringList(lines, source="reference"), self.content_offset, box)
        return box.children


def measured() -> list[dict[str, str]]:
    """The rows of the table of rates."""
    cells = [
        [cell.strip() for cell in line.strip().strip("|").split(" | ")]
        for line in RATES.read_text("utf-8").splitlines() if line.startswith("|")
    ]  # fmt: skip
    head, _, *rows = cells
    return [dict(zip(head, row, strict=True)) for row in rows]


def _literal(text: str, language: str) -> nodes.literal_block:
    return nodes.literal_block(text, text, language=language)


def _table(rows: list[dict[str, str]]) -> nodes.table:
    columns = {"claim": "claim", "room": "room", "nominal %": "may be false, %", "rate % (s.e.)": "was, % (s.e.)",
               "holds": "holds", "runs": "runs"}  # fmt: skip
    table, group = nodes.table(classes=["rates"]), nodes.tgroup(cols=len(columns))
    group += [nodes.colspec(colwidth=width) for width in (26, 40, 8, 10, 10, 6)]
    head, body = nodes.thead(), nodes.tbody()
    head += _row(columns.values())
    for row in rows:
        body += _row(row[name] for name in columns)
    group += [head, body]
    table += group
    return table


def _row(texts) -> nodes.row:
    row = nodes.row()
    for text in texts:
        entry = nodes.entry()
        entry += nodes.paragraph(text=text)
        row += entry
    return row


DIRECTIVES = {
    "run": Run, "page": Page, "python": Python, "own-words": Method, "reasons": Reasons, "rates": Rates,
    "reference": Reference,
}  # fmt: skip


def setup(app):
    """The directives; the room is furnished where it is not."""
    for name, directive in DIRECTIVES.items():
        app.add_directive(name, directive)
    app.connect("builder-inited", lambda _: ROOM.exists() or furnish())
    return {"parallel_read_safe": False}
