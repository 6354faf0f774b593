"""Every public function and class says what its numbers are, in line with signature and nomenclature."""

import pytest

from tests.docstring_rules import faults, items, package_items
from tests.nomenclature import OTHER_MEANING


def _with(signature: str, section: str, *lines: str) -> str:
    """Text of a function whose docstring has one section."""
    return "\n    ".join([signature, '"""Do.', "", section, "-" * len(section), *lines, '"""'])


BAD = {
    "nothing said": (
        "def f(): ...",
        "has no docstring",
    ),
    "numbers without a section": (
        'def f(x: float) -> None:\n    """Do."""',
        "takes numbers and has no Parameters section",
    ),
    "a parameter too few": (
        _with("def f(x: float, y: float) -> None:", "Parameters", "x : float, m"),
        "Parameters names x; the signature has x, y",
    ),
    "another order": (
        _with("def f(x: float, n: int) -> None:", "Parameters", "n : int", "    How many.", "x : float, m"),
        "Parameters names n, x; the signature has x, n",
    ),
    "a line that only repeats the annotation": (
        _with("def f(case: Case, x: float) -> None:", "Parameters", "case : Case", "x : float, m"),
        "the line of case only repeats the annotation",
    ),
    "no unit": (
        _with("def f(x: float) -> None:", "Parameters", "x : float"),
        "x has no unit ('float'); write it after a comma, - for none",
    ),
    "a unit that nobody knows": (
        _with("def f(x: float) -> None:", "Parameters", "x : float, cubits"),
        "x has no unit ('float, cubits')",
    ),
    "no shape": (
        _with("def f(x: ArrayLike) -> None:", "Parameters", "x : float, m"),
        "x is annotated as an array and described as 'float'",
    ),
    "an array that is none": (
        _with("def f(x: float) -> None:", "Parameters", "x : array (n,), m"),
        "x is annotated as a float and described as an array",
    ),
    "a unit against the nomenclature": (
        _with("def f(rated_speed: float) -> None:", "Parameters", "rated_speed : float, rpm"),
        "rated_speed has the unit rpm; the nomenclature has rad/s",
    ),
    "a reference that leads nowhere": (
        _with("def f(x: float) -> None:", "Parameters", "x : as in `ring_edges`"),
        "x is said to be as in ring_edges, which does not list it",
    ),
    "nothing of what comes back": (
        'def f() -> Floats:\n    """Do."""',
        "returns numbers and has no Returns section",
    ),
    "another class comes back": (
        _with("def f() -> Ring:", "Returns", "Disc"),
        "Returns does not name Ring",
    ),
    "an error that is not told": (
        'def f() -> None:\n    """Do."""\n    raise ValueError("no")',
        "raises ValueError and does not say so after 'Raises'",
    ),
    "no example, no source": (
        _with("def f() -> float:", "Returns", "float, m"),
        "computes numbers and has no doctest",
        "computes physics and names no source",
    ),
    "fields without units": (
        'class Result:\n    """What was found."""\n\n    speed: float',
        "holds numbers and has neither Attributes nor a line after each: speed",
    ),
    "a field too many": (
        'class Result:\n    """Found.\n\n    Attributes\n    ----------\n    x, y : float, m\n    """\n\n    x: float',
        "Attributes names x, y; the signature has x",
    ),
    "a line without a unit": (
        'class Result:\n    """What was found."""\n\n    x: float\n    """How far."""',
        "the line after the field x has no unit",
    ),
    "metadata against the nomenclature": (
        'class Stored:\n    """What is given."""\n\n    air_gap: float = field(metadata=quantity("angle", ANY, "gap"))',
        "metadata: air_gap has the unit rad; the nomenclature has m",
    ),
    "a method that keeps its unit to itself": (
        'class Result:\n    """What was found."""\n\n    def far(self) -> float:\n        """How far."""',
        "far: returns numbers and names no unit",
    ),
}

GOOD = '''
def f(speed: ArrayLike, key: str, *, inner_radius: float | None = None) -> Floats:
    """Double a speed. Derived here.

    Parameters
    ----------
    speed : float or array, rad/s
    inner_radius : float, m, optional
        Beside the matter.

    Returns
    -------
    array, rad/s

    Raises
    ------
    ValueError
        The key is unknown.

    >>> f(1.0, "a")
    2.0
    """
    raise ValueError("unknown")
'''


LAYERS = (
    "arrays", "behaviour", "elastic", "evidence", "planning", "plotting", "rotor", "second_opinion", "tabular",
    "units", "verdict",
)  # fmt: skip


@pytest.mark.parametrize("layer", LAYERS)
def test_docstrings_say_what_their_numbers_are(layer: str) -> None:
    found = {item.name: faults(item) for item in package_items() if item.package == layer}
    assert found
    assert not any(found.values()), "\n".join("\n  ".join((name, *lines)) for name, lines in found.items() if lines)


@pytest.mark.parametrize("case", BAD)
def test_bad_docstring_is_told_in_words(case: str) -> None:
    text, *expected = BAD[case]
    (item,) = items(text, "elastic.invented")
    found = faults(item)
    assert [any(words in fault for fault in found) for words in expected] == [True] * len(expected), found


def test_good_docstring_has_no_faults() -> None:
    (item,) = items(GOOD, "elastic.invented")
    assert faults(item) == []


def test_walk_meets_every_layer() -> None:
    assert {item.package for item in package_items()} == set(LAYERS)


@pytest.mark.parametrize("name", OTHER_MEANING, ids=".".join)
def test_other_meaning_is_still_needed(name: tuple[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(OTHER_MEANING, name)
    (item,) = [item for item in package_items() if item.name == name[0]]
    assert any("the nomenclature has" in fault for fault in faults(item)), f"{name} is no exception any more"
