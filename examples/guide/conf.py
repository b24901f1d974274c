"""How the guide is built: `python examples/guide/build.py`."""

import sys
from pathlib import Path

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

project = "panelstats"
author = "the authors of panelstats"
extensions = ["sphinx.ext.autodoc", "numpydoc", "showing"]
exclude_patterns = ["_made"]
html_theme = "furo"
html_title = "panelstats: a panel of tasters"
html_static_path = ["guide.css"]
html_css_files = ["guide.css"]
html_show_copyright = False
html_copy_source = False
html_show_sphinx = False
html_show_sourcelink = False
html_math_renderer = "mathml"
pygments_style = "friendly"
autodoc_typehints = "none"  # the docstrings say it, with shapes and units
numpydoc_show_class_members = False


def setup(app):
    """Formulas as MathML: no script, nothing fetched."""

    def inline(writer, node):
        writer.body.append(tex2mathml(node.astext(), as_block=False))
        raise nodes.SkipNode

    def block(writer, node):
        writer.body.append(tex2mathml(node.astext(), as_block=True))
        raise nodes.SkipNode

    app.add_html_math_renderer("mathml", (inline, None), (block, None))
