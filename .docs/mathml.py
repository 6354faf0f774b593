"""Formulas of a page as MathML: a browser draws them itself, with no script and no font from elsewhere."""

from typing import Any

from docutils import nodes
from latex2mathml.converter import convert


def mathml(formula: str, display: str) -> str:
    """A formula in TeX as MathML; `display` is "inline" or "block"."""
    text = convert(formula.strip().rstrip("."), display=display) if display == "block" else convert(formula)
    text = text.replace("<mo minsize=", '<mo stretchy="true" symmetric="true" minsize=')
    # browsers leave the box out
    return text.replace('<menclose notation="box">', '<mrow class="boxed">').replace("</menclose>", "</mrow>")


def _inline(translator: Any, node: nodes.math) -> None:
    translator.body.append(mathml(node.astext(), "inline"))
    raise nodes.SkipNode


def _block(translator: Any, node: nodes.math_block) -> None:
    translator.body.append(f'<div class="formula">{mathml(node.astext(), "block")}</div>')
    raise nodes.SkipNode


def setup(app: Any) -> dict[str, bool]:
    """Tell Sphinx of it."""
    app.add_html_math_renderer("mathml", inline_renderers=(_inline, None), block_renderers=(_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
