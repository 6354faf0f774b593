"""Build the pages: ``python .docs/build.py out/docs``. Nothing is fetched, neither now nor when they are read.

``--quick`` leaves out what takes minutes: running the lessons, most figures, and all but a few of the checks. Any
warning, and any page that would load something from elsewhere, ends the build with 1.
"""

from __future__ import annotations

import argparse
import importlib.util
import re
import shutil
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent
NEEDED = ("sphinx", "myst_parser", "latex2mathml", "nbclient", "nbformat", "ipykernel", "skfem")
REMOTE = re.compile(
    r"""<(?:script|img|iframe|source|audio|video|embed)\b[^>]*\bsrc\s*=\s*["']?(?:https?:)?//[^"'\s>]+"""
    r"""|<link\b[^>]*\brel\s*=\s*["']?(?:stylesheet|preload|icon|shortcut)[^>]*\bhref\s*=\s*["']?(?:https?:)?//[^"'\s>]+"""
    r"""|<link\b[^>]*\bhref\s*=\s*["']?(?:https?:)?//[^"'\s>]+[^>]*\brel\s*=\s*["']?(?:stylesheet|preload|icon)""",
    re.I,
)
"""What makes a page load something from elsewhere."""

REMOTE_STYLE = re.compile(r"""@import\s+(?:url\()?["']?(?:https?:)?//|url\(\s*["']?(?:https?:)?//""", re.I)


def main(arguments: list[str] | None = None) -> int:
    """Build the site; see the head of this file."""
    parser = argparse.ArgumentParser(prog="python .docs/build.py", description="Build the documentation pages.")
    parser.add_argument("out", type=Path, metavar="DIR", help="folder for the pages; what it holds is replaced")
    parser.add_argument("--quick", action="store_true", help="without running lessons, and with a few of the checks")
    options = parser.parse_args(arguments)
    absent = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if absent:
        print(f"the pages need {', '.join(absent)}: pip install -e '.[docs]'", file=sys.stderr)
        return 2
    if options.out.exists() and not (options.out / "objects.inv").exists() and any(options.out.iterdir()):
        print(f"{options.out} holds something else than pages; name another folder", file=sys.stderr)
        return 2
    sys.path[:0] = [str(ROOT), str(HERE)]
    with tempfile.TemporaryDirectory(prefix="rimmodel-docs-") as folder:
        source = Path(folder) / "source"
        write_source(source, quick=options.quick)
        code = run_sphinx(source, Path(folder) / "pages")
        if code:
            return code
        remote = loads_from_elsewhere(Path(folder) / "pages")
        for line in remote:
            print(line, file=sys.stderr)
        if remote:
            return 1
        shutil.rmtree(options.out, ignore_errors=True)
        shutil.copytree(Path(folder) / "pages", options.out, ignore=shutil.ignore_patterns(".doctrees", ".buildinfo"))
    print(f"wrote {options.out / 'index.html'}")
    return 0


def write_source(source: Path, *, quick: bool) -> None:
    """Put everything that Sphinx reads into a folder."""
    from gallery import write_gallery
    from lessons import write_lessons
    from reference import write_api, write_case_keys, write_commands

    shutil.copytree(HERE / "pages", source)
    shutil.copytree(HERE / "static", source / "static")
    for name in ("conf.py", "mathml.py"):
        shutil.copy(HERE / name, source / name)
    shutil.copytree(ROOT / ".readme", source / "readme")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    readme = readme.replace("(.readme/", "(readme/").replace("(DEVELOPERS.md)", "(developers.md)")
    (source / "guide.md").write_text(readme.replace("# rimmodel\n", "# Guide\n", 1), encoding="utf-8")
    shutil.copy(ROOT / "DEVELOPERS.md", source / "developers.md")
    shutil.copy(ROOT / "rimmodel" / "CHANGES.md", source / "changes.md")
    write_commands(source / "commands.md")
    write_case_keys(source / "case_file.md")
    write_api(source / "api")
    write_lessons(ROOT / "notebooks", source / "lessons", run=not quick)
    write_gallery(source / "gallery.md", source / "figures", quick=quick)
    write_validation(source, quick=quick)


def write_validation(source: Path, *, quick: bool) -> None:
    """Run the checks and write their table and figure."""
    from validation.__main__ import run
    from validation.collect import group_names
    from validation.report import write

    names = group_names()[:2] if quick else group_names()
    made = source / "checks"
    write(run(names), made)
    text = (made / "validation.md").read_text(encoding="utf-8")
    shutil.copy(made / "validation.svg", source / "validation.svg")
    shutil.rmtree(made)
    if quick:
        text = text.replace(
            "# Validation\n", "# Validation\n\n```{note}\nThis copy was built with a few checks only.\n```\n", 1
        )
    (source / "validation.md").write_text(text, encoding="utf-8")


def run_sphinx(source: Path, pages: Path) -> int:
    """Turn the folder into pages; a warning is an error."""
    from sphinx.cmd.build import build_main

    return build_main(["-q", "-W", "--keep-going", "-b", "html", str(source), str(pages)])


def loads_from_elsewhere(pages: Path) -> list[str]:
    """Every place at which a page or a style would load something over a network."""
    found = []
    for path in sorted(pages.rglob("*")):
        if path.suffix in (".html", ".css", ".svg"):
            pattern = REMOTE if path.suffix == ".html" else REMOTE_STYLE
            text = path.read_text(encoding="utf-8", errors="replace")
            found += [f"{path.relative_to(pages)} would load {match[0][:120]}" for match in pattern.finditer(text)]
    return found


if __name__ == "__main__":
    sys.exit(main())
