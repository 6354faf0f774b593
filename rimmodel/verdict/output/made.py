"""On which day a page was made."""

from __future__ import annotations

import os
from datetime import UTC, datetime

from rimmodel.verdict.output.files import OutputError


def made_on() -> str:
    """Today's date (UTC), or that of SOURCE_DATE_EPOCH (seconds since 1970), so that a page can be made again.

    Returns
    -------
    str
        As 2026-01-31.

    Raises
    ------
    OutputError
        SOURCE_DATE_EPOCH is set and is no such number.
    """
    stated = os.environ.get("SOURCE_DATE_EPOCH")
    if stated is None:
        return datetime.now(UTC).date().isoformat()
    try:
        return datetime.fromtimestamp(int(stated), UTC).date().isoformat()
    except (ValueError, OverflowError, OSError):
        raise OutputError(
            f"SOURCE_DATE_EPOCH is {stated!r}; it holds the date of the page as whole seconds since 1970: correct it "
            f"or unset it"
        ) from None
