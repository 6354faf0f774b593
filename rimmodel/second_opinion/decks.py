"""The decks of a case, and what their printed results show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from rimmodel.arrays import Floats
from rimmodel.rotor import Condition, Rotor
from rimmodel.second_opinion.axisymmetric import NAME, Axisymmetric
from rimmodel.second_opinion.drawing import Drawing, keys_known
from rimmodel.second_opinion.keyed import RING, SECTOR, Keyed
from rimmodel.second_opinion.printed import Printed, read_printed
from rimmodel.second_opinion.program import LONGEST, PROGRAM, ProgramError, StoppedError, require_program, run_program
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
    remarks : tuple of str
        What the decks did not show.
    missing : tuple of str
        Decks that are not compared, each with the reason; also among the remarks.
    """

    states: dict[str, States]
    key_force: Floats | None
    remarks: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Decks:
    """The decks of a rotor in a condition: the even rotor, and half a pitch where number and width of keys are known.

    The whole ring is a deck too where the interference of each key is known besides.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    condition : Condition
        Of scalar fields.
    title : str
        Of their first line.
    """

    rotor: Rotor
    condition: Condition
    title: str

    @cached_property
    def by_name(self) -> dict[str, Deck]:
        """Every deck by its name.

        Raises
        ------
        ValueError
            Rotor or condition holds arrays, or the list of interferences does not fit the keys.
        """
        decks: dict[str, Deck] = {NAME: Axisymmetric(Drawing(self.rotor, self.condition, False))}
        if keys_known(self.rotor):
            drawing = Drawing(self.rotor, self.condition, True)
            decks[SECTOR] = Keyed(drawing)
            if self.rotor.fit.key_interference is not None:
                decks[RING] = Keyed(drawing, whole=True)
        return decks

    @cached_property
    def texts(self) -> dict[str, str]:
        """The text of each deck, by the name of its file."""
        return {f"{name}.inp": "\n".join(deck.lines(self.title)) + "\n" for name, deck in self.by_name.items()}

    def refuse_without_program(self) -> None:
        """Raise `ProgramError` where there is nothing to run the decks with."""
        require_program()

    def run(self, folder: Path, longest: float = LONGEST) -> Results:
        """Run the program on the decks that were written to a folder.

        Parameters
        ----------
        longest : float, s
            For each deck.

        Returns
        -------
        Results
            Of the decks that came to their end; `Results.missing` names the others.

        Raises
        ------
        ProgramError
            The program is not there, or no deck came to its end.
        """
        require_program()
        texts: dict[str, str | ProgramError] = {}
        for name in self.by_name:
            try:
                texts[name] = run_program(folder, name, longest)
            except StoppedError as stopped:
                texts[name] = stopped
            except ProgramError as failed:
                texts[name] = (_begun(folder, name) if name == RING else "") or failed
        return self._results(texts, folder)

    def read(self, folder: Path) -> Results:
        """Read what the program printed for the decks of a folder, wherever it was run.

        Raises
        ------
        ProgramError
            A deck in the folder is not that of the case, or the results are not there, older than it, or complete for
            no deck.
        """
        printed: dict[str, str | ProgramError] = {}
        for file, text in self.texts.items():
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
        return self._results(printed, folder)

    def _results(self, texts: Mapping[str, str | ProgramError], folder: Path) -> Results:
        """Results of the decks whose printed text is there and complete; the first failure where there are none."""
        states: dict[str, States] = {}
        failed: dict[str, ProgramError] = {}
        remarks: tuple[str, ...] = ()
        force: Floats | None = None
        for name, deck in self.by_name.items():
            text = texts[name]
            try:
                if isinstance(text, ProgramError):
                    raise text
                printed = _printed(folder, name, text, len(deck.speeds))
                found = deck.states(printed)
                force = deck.key_force(printed) if name == RING and isinstance(deck, Keyed) else force
            except ProgramError as reason:
                failed[name] = reason
            except KeyError as absent:
                failed[name] = ProgramError(_cut_off(folder, name, f"node or element {absent} is not in it"))
            else:
                states[name] = found
                if len(printed) < len(deck.speeds):
                    remarks += (
                        f"{name}.inp: the program found no state at rated speed, as where keys have lifted off and the "
                        f"rim is hardly held; only standstill is compared ({folder / f'{name}.log'})",
                    )
        if failed and not states:
            raise next(iter(failed.values()))
        missing = tuple(f"{name}.inp is NOT COMPARED: {reason}" for name, reason in failed.items())
        return Results(states, force, remarks + missing, missing)


def _printed(folder: Path, name: str, text: str, wanted: int) -> list[Printed]:
    """The states of a deck in what the program printed; fewer than are wanted for a whole ring alone."""
    try:
        printed = read_printed(text)
    except (ValueError, IndexError, StopIteration):
        raise ProgramError(_cut_off(folder, name, "a table in it ends early")) from None
    got = len(printed)
    if got != wanted and not (name == RING and got):
        raise ProgramError(
            f"{folder / f'{name}.dat'} holds {got} of {wanted} states; {PROGRAM} did not reach the end: its last words "
            f"are in {folder / f'{name}.log'} where it was run by this command"
        )
    return printed


def _cut_off(folder: Path, name: str, what: str) -> str:
    return (
        f"{folder / f'{name}.dat'} is cut off ({what}): the run did not reach its end, as where a time limit stopped "
        f"it; run '{PROGRAM} {name}' again to its end, or rimmodel deck --run with a longer --time-limit"
    )


def _begun(folder: Path, name: str) -> str:
    """What a run has printed that did not reach its end, up to its last whole state; nothing without one."""
    place = folder / f"{name}.dat"
    text = place.read_text(encoding="utf-8", errors="replace") if place.exists() else ""
    try:
        return text if read_printed(text) else ""
    except (ValueError, IndexError, StopIteration):
        return ""
