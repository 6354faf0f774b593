"""A number that can be read in two scales: both readings, and what to do about it."""

from __future__ import annotations

import re


def both_readings(text: str) -> str:
    """The two numbers that a text with one mark before three digits can be.

    >>> both_readings("14.742")
    '14742 or as 14.742'
    """
    return f"{re.sub('[.,]', '', text)} or as {text.replace(',', '.')}"


def remedy(text: str, comma: bool) -> str:
    """Say what to do with a text that is no number.

    Parameters
    ----------
    text : str
        As it stands in the file.
    comma : bool
        Whether the file has decimal commas.
    """
    text = text.strip()[:200]
    mark = "," if comma else "."
    if re.fullmatch(r"[+-]?\d{1,3}[.,]\d{3}", text):
        return (
            f"it can be read as {both_readings(text)}; write it without a thousands separator and with {mark!r} as "
            f"decimal"
        )
    if re.fullmatch(r"[+-]?\d+[.,]\d+(?:[eE][+-]?\d+)?", text):
        return f"the decimal mark is {mark!r} in this file; use one mark throughout"
    if re.fullmatch(r"[+-]?\d{1,3}(?:[.,' \u00a0\u202f]\d{3})+(?:[.,]\d+)?", text):
        return f"write numbers without separators between thousands, and with {mark!r} as decimal"
    if re.fullmatch(r"[\u2212\u2013\u2014]\s*[\d.,]+", text):
        return "its sign is a dash; write a minus sign '-'"
    if re.fullmatch(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}([ T].*)?|\d{1,2}:\d{2}.*", text):
        return "dates and clock times are not read; write seconds from the start"
    if re.fullmatch(r"#(N/A|REF!|VALUE!|DIV/0!|NAME\?|NUM!|NULL!)", text):
        return "it is an error of the spreadsheet; leave the field empty to have the row left out and counted"
    if re.fullmatch(r"[+-]?[\d.,]+[dD][+-]?\d+", text):
        return "write the exponent with an e, as in '6e1'"
    if re.fullmatch(r"[+-]?[\d.,]+\s*[^\W\d].*", text):
        return "write the unit in the header, and the number alone in the field"
    return "correct it, or leave the field empty to have the row left out and counted"
