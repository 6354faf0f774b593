"""The pages: they build without a warning, hold what they should, and need nothing but their own folder to be read."""

import html
import importlib.util
import json
import re
import subprocess
import sys
from pathlib import Path
from urllib.parse import unquote

import pytest

import rimmodel
from rimmodel.cli import app

ROOT = Path(__file__).parent.parent
LESSONS = sorted(path.stem for path in (ROOT / "notebooks").glob("*.ipynb"))
ABSENT = [name for name in ("sphinx", "myst_parser", "latex2mathml") if importlib.util.find_spec(name) is None]

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(bool(ABSENT), reason=f"the pages need {', '.join(ABSENT)}: pip install -e '.[docs]'"),
]


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Text of every page by its path, from a quick build."""
    out = tmp_path_factory.mktemp("pages") / "docs"
    done = subprocess.run(
        [sys.executable, str(ROOT / ".docs" / "build.py"), str(out), "--quick"],
        cwd=tmp_path_factory.mktemp("elsewhere"), capture_output=True, text=True, check=False, timeout=1200,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return out, {str(path.relative_to(out)): path.read_text(encoding="utf-8") for path in out.rglob("*.html")}


def plain(page):
    """Text of a page without its marks."""
    return html.unescape(re.sub(r"<[^>]*>", " ", page))


def test_every_link_and_picture_of_a_page_is_there(pages):
    out, texts = pages
    lost = []
    for name, text in texts.items():
        for address in re.findall(r"""(?:href|src)="([^"]*)\"""", text):
            place, _, mark = html.unescape(address).partition("#")
            place = place.partition("?")[0]  # the mark of a version
            if re.match(r"[a-z]+:", place):
                continue
            target = (out / name).parent / unquote(place) if place else out / name
            anchors = texts.get(str(target.resolve().relative_to(out.resolve())), "") if mark else ""
            if not target.exists() or (mark and f'id="{mark}"' not in anchors):
                lost.append(f"{name}: {address}")
    assert not lost, lost[:10]


def test_nothing_is_loaded_from_elsewhere(pages):
    out, texts = pages
    loads = r"""<(?:script|img|iframe|link|source)\b[^>]*(?:src|href)="(?:https?:)?//[^"]*\""""
    assert not [match for text in texts.values() for match in re.findall(loads, text)]
    styles = [path.read_text(encoding="utf-8") for path in out.rglob("*.css")]
    assert styles
    assert not [style for style in styles if re.search(r"(?:@import|url\()\s*[\"\']?(?:https?:)?//", style)]


def test_every_lesson_is_there_with_its_formulas_as_mathml(pages):
    _, texts = pages
    for name in LESSONS:
        page = texts[f"lessons/{name}.html"]
        notebook = json.loads((ROOT / "notebooks" / f"{name}.ipynb").read_text(encoding="utf-8"))
        sources = ["".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "markdown"]
        formulas = sum(len(re.findall(r"\$\$.+?\$\$|\$[^$\n]+\$", source, re.S)) for source in sources)
        assert page.count("<math ") == formulas, name
        outside = plain(re.sub(r"<pre.*?</pre>|<code.*?</code>", "", page, flags=re.S))
        assert not re.search(r"\$[^$]*\$|\\(?:frac|sigma|omega|delta)", outside), name


def test_public_names_commands_and_keys_are_there(pages):
    _, texts = pages
    names = {name for name in rimmodel.__all__ if not name.startswith("_")}
    assert not {name for name in names if name not in texts["api/index.html"]}
    assert 'id="rimmodel.elastic.ring.Ring"' in texts["api/elastic.html"]
    assert not [name for name, text in texts.items() if "<strong>&gt;&gt;&gt;" in text], "an example became an item"
    commands = {command.name or command.callback.__name__ for command in app.registered_commands}
    assert not {name for name in commands if f"rimmodel {name}" not in plain(texts["commands.html"])}
    assert "hoop_stiffness_factor" in texts["case_file.html"]


def test_figures_checks_changes_and_the_guide_are_there(pages):
    out, texts = pages
    assert texts["gallery.html"].count("<img ") >= 3
    assert "built with a few checks only" in texts["validation.html"]
    assert texts["validation.html"].count("holds") >= 3
    assert "Numbers that changed" in texts["changes.html"]
    assert "It does not clear a machine to run" in plain(texts["guide.html"])
    assert (out / "searchindex.js").is_file()


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(ROOT / ".docs" / "build.py"), str(tmp_path), "--quick"],
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 2
    assert "name another folder" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
