"""Numbers as a text prints them, and whether they are those of another output, to the coarser of their decimals."""

import re

NUMBER = re.compile(r"(?<![\w.])[+-]?\d[\d,]*(?:\.\d+)?")


def printed(words):
    """Numbers of a text as they are printed, without a sign of plus."""
    return [number.replace(",", "").lstrip("+") for number in NUMBER.findall(words)]


def decimals(number):
    return len(number.partition(".")[2]) if isinstance(number, str) else 12


def agree(one, other):
    """Whether two numbers are the same to the coarser of their decimals; a number of JSON has all of its own."""
    step = 10.0 ** -min(decimals(one), decimals(other))
    exact = isinstance(one, float) or isinstance(other, float)
    return abs(float(one) - float(other)) <= (0.5 if exact else 1e-9) * step * (1 + 1e-6)


def assert_same(label, said):
    """`said`: numbers by source; every list must have the same length and agree number by number."""
    lists = list(said.values())
    for other in lists[1:]:
        assert len(other) == len(lists[0]), (label, said)
        for a, b in zip(lists[0], other, strict=True):
            assert agree(a, b), (label, said)


def json_numbers(values, *, speed=False):
    """Numbers of JSON as a list without what is open; a speed of 0 is an open side."""
    listed = values if isinstance(values, list) else [values]
    return [float(value) for value in listed if value is not None and not (speed and value == 0)]
