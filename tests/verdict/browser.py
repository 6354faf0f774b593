"""A headless browser for the tests of pages; each runs in a profile of its own."""

import shutil
import subprocess

import pytest

BROWSER = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)

needs_browser = pytest.mark.skipif(BROWSER is None, reason="needs chromium")


def browse(page, folder, *arguments, seconds=60):
    """What the browser prints of a page: its elements after all scripts have run, with ``--dump-dom``."""
    return subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", f"--user-data-dir={folder / 'profile'}", *arguments,
         page.as_uri()], check=True, capture_output=True, text=True, timeout=seconds,
    ).stdout  # fmt: skip
