"""The page on paper and in a narrow window, as a browser sets it: nothing is cut, page one is one page."""

import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest

from tests.built_in import write_example

BROWSER = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
NEEDED = {"chromium": BROWSER, "pdftotext (poppler)": shutil.which("pdftotext")}
ABSENT = [name for name, found in NEEDED.items() if found is None]
pytestmark = pytest.mark.skipif(bool(ABSENT), reason=f"setting the page on paper takes {' and '.join(ABSENT)}")

MARGIN = 10 / 25.4 * 72
"""Of the page, in points, above and below; at the sides it is wider."""

NARROW = """<iframe id="frame" src="out/review.html" style="width:320px;height:900px;border:0"></iframe>
<pre id="said"></pre>
<script>
frame.onload = () => {
  const page = frame.contentDocument, whole = page.documentElement;
  const outside = part => part.getBoundingClientRect().right > whole.clientWidth + 1;
  const wide = [...page.querySelectorAll('body *')].filter(part => outside(part) && !part.closest('.wide, svg'));
  const scrolled = [...page.querySelectorAll('.wide')].filter(part => part.scrollWidth > part.clientWidth).length;
  said.textContent = `${whole.scrollWidth} ${whole.clientWidth} ${wide.length} ${scrolled}`;
};
</script>
"""


def browser(folder, *arguments):
    return subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'profile'}", *arguments],
        check=True, capture_output=True, text=True, timeout=300,
    ).stdout  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("paper")
    write_example(place / "out")
    browser(
        place, "--no-pdf-header-footer", f"--print-to-pdf={place / 'page.pdf'}", (place / "out/review.html").as_uri()
    )
    return place


def pdf_text(folder, *options):
    done = subprocess.run(
        ["pdftotext", *options, str(folder / "page.pdf"), "-"], check=True, capture_output=True, text=True
    )
    return done.stdout


LIVE = r'<div class="live" .*?(?=<div class="wide">)|<(t[hd]) class="[^"]*\blive\b[^"]*"[^>]*>.*?</\1>'
"""What follows moved inputs on a screen and is not for paper; `test_what_if_page.py` sees that it stays off it."""


class Cells(HTMLParser):
    """Texts of all table cells, list items, paragraphs and headings of a page."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.texts, self.words = [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        if tag in ("td", "th", "li", "p", "h1", "h2", "h3", "figcaption"):
            self.words = []

    def handle_data(self, data):
        self.words.append(data)

    def handle_endtag(self, tag):
        if tag in ("td", "th", "li", "p", "h1", "h2", "h3", "figcaption"):
            self.texts.append("".join("".join(self.words).split()))


def test_every_cell_and_sentence_of_the_page_is_on_paper(folder):
    html = (folder / "out" / "review.html").read_text(encoding="utf-8")
    texts = Cells(re.sub(LIVE, "", html, flags=re.DOTALL)).texts
    assert len(texts) > 800
    paper = "".join(pdf_text(folder, "-raw").split())
    assert [text for text in texts if text not in paper] == []


def test_no_word_reaches_beyond_the_paper(folder):
    boxes = pdf_text(folder, "-bbox")
    pages = re.findall(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', boxes, re.DOTALL)
    assert len(pages) > 5
    for width, height, words in pages:
        assert (float(width), float(height)) == pytest.approx((595, 842), abs=1.5)  # A4
        for left, top, right, bottom in re.findall(
            r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', words
        ):
            assert float(left) >= MARGIN - 1
            assert float(right) <= float(width) - MARGIN + 1
            assert float(top) >= MARGIN - 3
            assert float(bottom) <= float(height) - MARGIN + 3


def test_page_one_is_whole_and_alone(folder):
    first, second = pdf_text(folder).split("\f")[:2]
    headings = ("Claims and requirements", "What decides, and what would change the verdict", "Cautions")
    for words in (*headings, "SHA-256 of all", "quillmere.toml", "Prepared by, date:", "Checked by, date:"):
        assert words in first, words
    assert "Annex 1:" not in first
    assert second.split()[0] == "Annexes"
    assert "Annex 1: Doubts, reasons and remarks" in second


def test_a_narrow_window_scrolls_tables_and_not_the_page(folder):
    (folder / "narrow.html").write_text(NARROW, encoding="utf-8")
    shown = browser(
        folder, "--allow-file-access-from-files", "--virtual-time-budget=5000", "--dump-dom",
        (folder / "narrow.html").as_uri(),
    )  # fmt: skip
    across, window, too_wide, scrolled = map(int, re.search(r'<pre id="said">([\d ]+)</pre>', shown)[1].split())
    assert window <= 320
    assert across <= window
    assert too_wide == 0
    assert scrolled > 0
