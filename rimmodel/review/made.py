"""By which version and on which day a page was made."""

from __future__ import annotations

import os
from datetime import UTC, datetime


def version_text() -> str:
    """Version of the program as installed."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("rimmodel")
    except PackageNotFoundError:
        return "of unknown version"


def made_on() -> str:
    """Today's date (UTC), or that of SOURCE_DATE_EPOCH (seconds since 1970) where it is set, so that a page can be
    made again byte by byte.

    Returns
    -------
    str
        As 2026-01-31.
    """
    stated = os.environ.get("SOURCE_DATE_EPOCH", "")
    moment = datetime.fromtimestamp(int(stated), UTC) if stated.isdigit() else datetime.now(UTC)
    return moment.date().isoformat()
