"""How Sphinx lays the pages out: nothing on them is loaded from elsewhere, and formulas are MathML."""

import re
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))  # `mathml` lies beside this file in the folder that is built

from rimmodel.version import VERSION

project = "rimmodel"
author = "The rimmodel founders"
copyright = "2026, The rimmodel founders"
version = release = VERSION

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "mathml"]
source_suffix = {".md": "markdown", ".rst": "restructuredtext"}
myst_enable_extensions = ["dollarmath"]
myst_heading_anchors = 3
myst_dmath_double_inline = True
html_math_renderer = "mathml"

default_role = "py:obj"
autodoc_member_order = "bysource"
autodoc_typehints = "none"  # the docstrings say more: unit and shape
napoleon_google_docstring = False
napoleon_use_ivar = True
napoleon_use_rtype = False
add_module_names = False
python_maximum_signature_line_length = 88
suppress_warnings = [
    "ref.python",  # a name that several modules have stays without a link
    "myst.header",  # lessons begin their parts at the second level
]

html_theme = "alabaster"
html_title = f"rimmodel {VERSION}"
html_static_path = ["static"]
html_css_files = ["pages.css"]
html_copy_source = False
html_show_sourcelink = False
html_show_sphinx = False
html_sidebars = {"**": ["about.html", "searchfield.html", "navigation.html"]}
html_theme_options = {
    "description": "Float speed, shrink fit and air gap of hydro-generator rotor rims",
    "page_width": "1180px",
    "sidebar_width": "240px",
    "show_powered_by": False,
    "font_family": "system-ui, sans-serif",
    "head_font_family": "system-ui, sans-serif",
    "font_size": "16px",
    "sidebar_collapse": True,
    "globaltoc_maxdepth": 2,
}


def _plain_stars(app: Any, what: str, name: str, thing: object, options: object, lines: list[str]) -> None:
    """Keep stars and bars of plain text, such as those of a product, from being read as marks of emphasis."""
    example = False
    for number, line in enumerate(lines):
        example = line.lstrip().startswith(">>>") or (example and bool(line.strip()))
        if not example:
            parts = re.split(r"(`[^`]*`)", line)
            lines[number] = "".join(
                part if part.startswith("`") else re.sub(r"(?<!\\)([*|])", r"\\\1", part) for part in parts
            )


LISTS = ("Parameters", "Returns", "Raises", "Attributes", "Yields")
_ITEM = re.compile(r"[\w*, ]+ : ")


def _close_lists(app: Any, what: str, name: str, thing: object, options: object, lines: list[str]) -> None:
    """Head what follows the lists of a docstring, or it would be read as one more of their items."""
    closed: list[str] = []
    in_list = False
    for number, line in enumerate(lines):
        following = lines[number + 1] if number + 1 < len(lines) else ""
        headed = bool(line.strip()) and set(following.strip()) == {"-"}
        if headed:
            in_list = line.strip() in LISTS
        elif in_list and number and not lines[number - 1].strip() and line[:1].strip() and not _ITEM.match(line):
            heading = "Examples" if line.startswith(">>>") else "Notes"
            closed += [heading, "-" * len(heading)]
            in_list = False
        closed.append(line)
    lines[:] = closed


def setup(app: Any) -> None:
    """Tell Sphinx of it, before the sections of a docstring are taken apart."""
    app.connect("autodoc-process-docstring", _plain_stars, priority=100)
    app.connect("autodoc-process-docstring", _close_lists, priority=110)
