"""Makes copies of the lessons to print or to read without a network: one file each, formulas and figures included.

::

    python printed.py                      # every lesson, into the folder printed
    python printed.py 03_shrink_fit_and_speed --answers --out paper

Each lesson is run, and its page holds text, code, output and figures; folded code is left out. Formulas are drawn as
outlines by matplotlib, so that a page needs neither a script nor a font from elsewhere. Needs the extra `notebooks`.
"""

import argparse
import base64
import html
import re
from functools import cache
from pathlib import Path

import nbformat
from markdown_it import MarkdownIt
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath, text_to_path
from nbclient import NotebookClient

FOLDER = Path(__file__).parent
FORMULA = re.compile(r"\$\$(?P<shown>.+?)\$\$|\$(?P<inline>[^$]+?)\$", re.DOTALL)
SIZE = 17.0
"""Of the letters in a formula, CSS pixels."""

STYLE = """
body { max-width: 46em; margin: 2em auto; padding: 0 1em; font: 15px/1.5 sans-serif; color: #111 }
pre { white-space: pre-wrap; font-size: 12px; line-height: 1.35; padding: .5em .8em; border: 1px solid #ccc }
pre.out { border: 0; border-left: 3px solid #999 }
table { border-collapse: collapse } td, th { border: 1px solid #bbb; padding: .25em .6em; text-align: left }
img { max-width: 100% } .shown { text-align: center; margin: 1em 0 } svg { fill: #111 }
blockquote { margin-left: 0; padding-left: 1em; border-left: 3px solid #999 }
@media print { body { margin: 0; max-width: none } pre, table, img { break-inside: avoid } }
"""

_ARGUMENT = r"\s*(?:\{|(?P<first>\\[a-zA-Z]+|[^\s{\\]))"


def formula(latex, *, shown=False):
    """A formula as an inline drawing; `shown` puts it on a line of its own."""
    plain = _plain(latex)
    width, height, depth, outline = _drawn(plain.replace(r"\frac", r"\dfrac") if shown else plain)
    text = html.escape(latex.strip(), quote=True)
    drawing = (
        f'<svg role="img" aria-label="{text}" width="{width:.1f}" height="{height + depth:.1f}" '
        f'viewBox="0 {-height:.2f} {width:.2f} {height + depth:.2f}" style="vertical-align:{-depth:.1f}px">'
        f'<path d="{outline}"/></svg>'
    )
    return f'<div class="shown">{drawing}</div>' if shown else drawing


@cache
def _drawn(latex):
    """Width, height above and depth below the line, and the outline of a formula in the words of SVG."""
    font = FontProperties(size=SIZE, math_fontfamily="stix")
    # measured in the size in which the outline is drawn before it is scaled: it is then read once
    large = FontProperties(size=text_to_path.FONT_SCALE, math_fontfamily="stix")
    measured = text_to_path.mathtext_parser.parse(f"${latex}$", text_to_path.DPI, large)[:3]
    width, height, depth = (size * SIZE / text_to_path.FONT_SCALE for size in measured)
    steps = []
    for points, code in TextPath((0, 0), f"${latex}$", prop=font).iter_segments(curves=True, simplify=False):
        places = " ".join(f"{x:.2f},{-y:.2f}" for x, y in points.reshape(-1, 2))
        steps.append("Z" if code == 79 else f"{ {1: 'M', 2: 'L', 3: 'Q', 4: 'C'}[int(code)] }{places}")
    return float(width) + 1.0, float(height) + 1.0, float(depth) + 1.0, " ".join(steps)


def _plain(latex):
    """The same formula without the abbreviations that matplotlib does not read: arguments in braces, long names."""
    text = " ".join(latex.split())
    text = text.replace(r"\tfrac", r"\frac")
    text = re.sub(r"\\[bB]ig(?=[(\[])", r"\\left", text)
    text = re.sub(r"\\[bB]ig(?=[)\]])", r"\\right", text)
    text = re.sub(r"\\(le|ge)(?![a-zA-Z])", r"\\\1q", text)
    text = re.sub(r"\\displaystyle", "", text)
    for name, count in (("dfrac", 2), ("frac", 2), ("sqrt", 1), ("mathbf", 1)):
        text = _with_braces(text, name, count)
    return text


def _with_braces(text, name, count):
    r"""Put braces around the bare arguments of a command: ``\frac12`` is ``\frac{1}{2}``."""
    start = re.compile(rf"\\{name}(?![a-zA-Z])")
    done, rest = "", text
    while found := start.search(rest):
        done, rest = done + rest[: found.end()], rest[found.end() :]
        for _ in range(count):
            argument = re.match(_ARGUMENT, rest)
            if argument and argument["first"]:
                done, rest = f"{done}{{{argument['first']}}}", rest[argument.end() :]
            else:
                end = _closing(rest.lstrip())
                done, rest = done + rest.lstrip()[:end], rest.lstrip()[end:]
    return done + rest


def _closing(text):
    """Where the brace that opens a text is closed, exclusive."""
    depth = 0
    for place, letter in enumerate(text):
        depth += (letter == "{") - (letter == "}")
        if depth == 0:
            return place + 1
    raise ValueError(f"a brace is not closed in {text!r}")


def formulas(source):
    """All formulas of a text in Markdown, as (LaTeX, whether it stands on a line of its own)."""
    found = FORMULA.finditer(re.sub(r"`[^`]*`", "", source))
    return [(match["shown"] or match["inline"], bool(match["shown"])) for match in found]


def text_page(source):
    """HTML of a text in Markdown, with its formulas drawn."""
    drawings = []

    def keep(match):
        drawings.append(formula(match["shown"] or match["inline"], shown=bool(match["shown"])))
        return f"FORMULA{len(drawings) - 1}."

    parts = re.split(r"(`[^`]*`)", source)
    marked = "".join(part if part.startswith("`") else FORMULA.sub(keep, part) for part in parts)
    page = MarkdownIt("commonmark", {"html": True}).enable("table").render(marked)
    return re.sub(r"FORMULA(\d+)\.", lambda match: drawings[int(match[1])], page)


def _output(output):
    """HTML of one output of a cell."""
    if output.output_type == "stream":
        return f'<pre class="out">{html.escape(output.text)}</pre>'
    data = output.get("data", {})
    if "image/svg+xml" in data:
        figure = base64.b64encode(data["image/svg+xml"].encode()).decode()
        return f'<p><img alt="figure" src="data:image/svg+xml;base64,{figure}"></p>'
    if "image/png" in data:
        return f'<p><img alt="figure" src="data:image/png;base64,{data["image/png"].strip()}"></p>'
    if "text/latex" in data:
        return "".join(formula(latex, shown=True) for latex, _ in formulas(data["text/latex"]))
    return f'<pre class="out">{html.escape(data.get("text/plain", ""))}</pre>' if data else ""


def lesson_page(notebook, title, *, answers=False):
    """HTML of a notebook that has been run; `answers` opens what is folded in the text."""
    parts = []
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            parts.append(text_page(cell.source))
        elif cell.cell_type == "code":
            if not cell.metadata.get("jupyter", {}).get("source_hidden"):
                parts.append(f"<pre>{html.escape(cell.source)}</pre>")
            parts += [_output(output) for output in cell.outputs]
    return whole_page("\n".join(parts), title, answers=answers)


def whole_page(body, title, *, answers=False):
    """A page that stands alone."""
    if answers:
        body = body.replace("<details>", "<details open>")
    head = f'<meta charset="utf-8"><title>{html.escape(title)}</title><style>{STYLE}</style>'
    return f"<!doctype html><html lang=en><head>{head}</head><body>\n{body}\n</body></html>\n"


def main():
    """Run the lessons that are named, or all, and write a page of each and of the glossary."""
    reader = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    reader.add_argument("lessons", nargs="*", help="names without .ipynb; all when none is given")
    reader.add_argument("--out", default="printed", metavar="DIR", help="folder for the pages; default: printed")
    reader.add_argument("--answers", action="store_true", help="print the worked answers, too")
    asked = reader.parse_args()
    names = asked.lessons or sorted(path.stem for path in FOLDER.glob("*.ipynb"))
    missing = [name for name in names if not (FOLDER / f"{name}.ipynb").is_file()]
    if missing:
        reader.error(f"no lesson {', '.join(missing)} in {FOLDER}; give names such as 03_shrink_fit_and_speed")
    out = Path(asked.out)
    out.mkdir(parents=True, exist_ok=True)
    glossary = text_page((FOLDER / "glossary.md").read_text(encoding="utf-8"))
    (out / "glossary.html").write_text(whole_page(glossary, "glossary"), encoding="utf-8")
    for name in names:
        notebook = nbformat.read(FOLDER / f"{name}.ipynb", as_version=4)
        sharp = nbformat.v4.new_code_cell('%config InlineBackend.figure_formats = ["svg"]')
        sharp.metadata["jupyter"] = {"source_hidden": True}
        notebook.cells.insert(0, sharp)
        NotebookClient(notebook, timeout=600, resources={"metadata": {"path": str(FOLDER)}}).execute()
        page = lesson_page(notebook, name, answers=asked.answers)
        (out / f"{name}.html").write_text(page, encoding="utf-8")
        print(f"wrote {out / f'{name}.html'}")


if __name__ == "__main__":
    main()
