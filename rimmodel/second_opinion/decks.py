"""The decks of a case, and what their printed results show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from rimmodel.arrays import Floats
from rimmodel.rotor import Condition, Rotor
from rimmodel.second_opinion.axisymmetric import NAME, Axisymmetric
from rimmodel.second_opinion.drawing import Drawing, keys_known
from rimmodel.second_opinion.keyed import RING, SECTOR, Keyed
from rimmodel.second_opinion.printed import Printed, read_printed
from rimmodel.second_opinion.program import LONGEST, PROGRAM, ProgramError, run_program
from rimmodel.second_opinion.states import States

Deck = Axisymmetric | Keyed


@dataclass(frozen=True)
class Results:
    """What the decks showed.

    Attributes
    ----------
    states : dict of str to States
        By the name of the deck.
    key_force : array (n, N), N
        Of each key at the states of the whole ring; None without one.
    """

    states: dict[str, States]
    key_force: Floats | None


def decks_of(rotor: Rotor, condition: Condition) -> dict[str, Deck]:
    """Decks by name: the even rotor; half a pitch where number and width of the keys are known; and the whole ring.

    The ring is there where the interference of each key is known.

    Raises
    ------
    ValueError
        Rotor or condition holds arrays, or the list of interferences does not fit the keys.
    """
    decks: dict[str, Deck] = {NAME: Axisymmetric(Drawing(rotor, condition, False))}
    if keys_known(rotor):
        drawing = Drawing(rotor, condition, True)
        decks[SECTOR] = Keyed(drawing)
        if rotor.fit.key_interference is not None:
            decks[RING] = Keyed(drawing, whole=True)
    return decks


def deck_texts(decks: Mapping[str, Deck], title: str) -> dict[str, str]:
    """The text of each deck, by the name of its file."""
    return {f"{name}.inp": "\n".join(deck.lines(title)) + "\n" for name, deck in decks.items()}


def run_decks(decks: Mapping[str, Deck], folder: Path, longest: float = LONGEST) -> Results:
    """Run the program on the decks of a folder.

    Parameters
    ----------
    longest : float, s
        For each deck.

    Raises
    ------
    ProgramError
        The program is not there, failed, took too long, or printed other results than were asked for.
    """
    return _results(decks, {name: run_program(folder, name, longest) for name in decks}, folder)


def read_decks(decks: Mapping[str, Deck], folder: Path, title: str) -> Results:
    """Read what the program printed for the decks of a folder, wherever it was run.

    Raises
    ------
    ProgramError
        A deck in the folder is not that of the case, or its results are not there or not complete.
    """
    printed = {}
    for file, text in deck_texts(decks, title).items():
        place, results = folder / file, (folder / file).with_suffix(".dat")
        if not place.is_file():
            raise ProgramError(f"{place} is not there; write the decks first, with --out")
        if place.read_text(encoding="utf-8", errors="replace") != text:
            raise ProgramError(
                f"{place} is not the deck of this case in this condition; name the --condition for which it was "
                "written, or write the decks again with --out and --force and run them"
            )
        if not results.is_file():
            raise ProgramError(f"{results} is not there; run '{PROGRAM} {results.stem}' in {folder} first")
        if results.stat().st_mtime < place.stat().st_mtime:
            raise ProgramError(f"{results} is older than {place}; run '{PROGRAM} {results.stem}' in {folder} again")
        printed[results.stem] = results.read_text(encoding="utf-8", errors="replace")
    return _results(decks, printed, folder)


def _results(decks: Mapping[str, Deck], texts: Mapping[str, str], folder: Path) -> Results:
    printed: dict[str, list[Printed]] = {}
    for name, deck in decks.items():
        place = folder / f"{name}.dat"
        try:
            printed[name] = read_printed(texts[name])
        except (ValueError, IndexError, StopIteration):
            raise ProgramError(f"{place} cannot be read: a table in it is cut off; run {PROGRAM} again") from None
        if len(printed[name]) != len(deck.speeds):
            raise ProgramError(
                f"{place} holds {len(printed[name])} of {len(deck.speeds)} states; {PROGRAM} did not reach the end: "
                f"its last words are in {folder / f'{name}.log'} where it was run by this command"
            )
    try:
        states = {name: deck.states(printed[name]) for name, deck in decks.items()}
    except KeyError as missing:
        raise ProgramError(f"{folder}: the results lack node or element {missing}; run {PROGRAM} again") from None
    ring = decks.get(RING)
    return Results(states, ring.key_force(printed[RING]) if isinstance(ring, Keyed) else None)
