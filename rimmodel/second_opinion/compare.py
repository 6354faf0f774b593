"""Ours and finite elements side by side: quantity, both numbers, the difference, and its reason."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour import Sweep, float_speed, sweep
from rimmodel.behaviour.keys.run import key_run
from rimmodel.rotor import Condition, Rotor
from rimmodel.second_opinion.axisymmetric import NAME
from rimmodel.second_opinion.decks import Decks, Results
from rimmodel.second_opinion.keyed import RING, SECTOR
from rimmodel.second_opinion.reasons import Cause, causes
from rimmodel.second_opinion.states import Lifted, States, lifted

ASKS_A_REASON = 0.5
"""Per cent of difference from which a row states its reason."""


@dataclass(frozen=True)
class Row:
    """One number twice.

    Attributes
    ----------
    kind : str
        Of quantity, by which it is printed.
    ours, theirs : float, SI
    difference : float, -
        Ours less finite elements, in per cent of `of`; None where both are nothing.
    of : str
        What the difference is a share of, where that is not the number of the finite elements.
    reason : str
        Empty where the difference asks for none.
    explained : bool
        Whether what is known to differ accounts for it.
    """

    deck: str
    what: str
    kind: str
    ours: float
    theirs: float
    difference: float | None
    of: str
    reason: str
    explained: bool


@dataclass(frozen=True)
class Comparison:
    """The table, and the float speed of each deck.

    Attributes
    ----------
    lifted : dict of str to Lifted
        By the name of the deck.
    remarks : tuple of str
        What the decks did not show.
    """

    rows: tuple[Row, ...]
    lifted: dict[str, Lifted]
    remarks: tuple[str, ...] = ()

    @property
    def largest(self) -> float:
        """Largest difference of all rows, - (in per cent)."""
        return max((abs(row.difference) for row in self.rows if row.difference is not None), default=0.0)

    @property
    def findings(self) -> tuple[Row, ...]:
        """Rows for which no known cause accounts."""
        return tuple(row for row in self.rows if not row.explained)

    def by_deck(self) -> dict[str, list[Row]]:
        """Rows of each deck."""
        return {
            deck: [row for row in self.rows if row.deck == deck] for deck in dict.fromkeys(r.deck for r in self.rows)
        }


def compare(decks: Decks, results: Results) -> Comparison:
    """Ours beside what the decks of a rotor in a condition showed.

    The field pulls with its pull at the cold gap, in the decks and in ours beside them: both answer the same question.

    Parameters
    ----------
    results : Results
        Of those decks.
    """
    rotor, still = decks.rotor, replace(decks.condition, excitation="constant voltage")
    keyed = SECTOR in results.states
    rows: list[Row] = []
    for name in (NAME, SECTOR):
        if name in results.states:
            states = results.states[name]
            fit = replace(rotor.fit, key_width=None, key_interference=None) if name == NAME else rotor.fit
            rows += _Rows(name, replace(rotor, fit=fit), still, states).every(part=keyed and name == NAME)
    if results.key_force is not None:
        rows += _key_rows(rotor, still, results.states[RING], results.key_force)
    found = {name: lifted(states) for name, states in results.states.items() if name != RING}
    return Comparison(tuple(rows), found, results.remarks)


@dataclass(frozen=True)
class _Rows:
    """Rows of one deck."""

    deck: str
    rotor: Rotor
    condition: Condition
    states: States

    def every(self, part: bool) -> list[Row]:
        """All rows; in part, those alone in which keys make no difference."""
        ours = sweep(self.rotor, self.condition, self.states.speed)
        known = causes(self.rotor, self.states)
        if part:
            loose = [name for name in self._named if not self.states.seated[self.states.at(name)]]
            return [*self._stress(ours, loose[-1:], known), *self._float_speed(known)]
        return [
            *self._pressure(ours, known),
            *self._growth(ours, known),
            *self._stress(ours, self._named, known),
            *self._float_speed(known),
        ]

    @property
    def _named(self) -> list[str]:
        """Standstill and the named speeds, slowest first; one name for each speed."""
        found: dict[float, str] = {}
        for name, speed in self.rotor.speeds.from_standstill.items():
            if name in self.states.name:
                found[float(speed)] = name
        return list(found.values())

    def _pressure(self, ours: Sweep, known: tuple[Cause, ...]) -> list[Row]:
        rows, scale = [], float(self.states.pressure.max())
        keys = self.rotor.key_count if self.deck == SECTOR else None
        force = 2 * np.pi * float(self.rotor.rim.inner_radius) * float(self.rotor.rim.length)
        for name in ("standstill", "rated"):
            at = self.states.at(name)
            pair, words = (float(ours.contact_pressure[at]), float(self.states.pressure[at])), f"at {_words(name)}"
            of = "" if at == 0 else "of the highest"
            rows.append(self._row(f"contact pressure {words}", "stress", pair, scale, of, known))
            if keys is not None:
                each = force / float(keys)
                both = (each * pair[0], each * pair[1])
                rows.append(self._row(f"mean force of a key {words}", "force", both, each * scale, of, known))
        return rows

    def _growth(self, ours: Sweep, known: tuple[Cause, ...]) -> list[Row]:
        rows = []
        loose, x = ~self.states.seated, self.states.speed**2
        for words, theirs, own in (
            ("growth of the bore", self.states.bore, ours.rim_bore_growth),
            ("growth of the outside, which the gap loses,", self.states.outside, ours.rim_outer_growth),
        ):
            growth = theirs - theirs[0]
            free = np.polyfit(x[loose], theirs[loose], 1)[0] * x if loose.sum() >= 2 else 2 * growth
            for name in self._named[1:]:
                at = self.states.at(name)
                pair, scale = (float(own[at]), float(growth[at])), float(growth[at])
                # a seated rim is held back by the contact: what is uncertain of that moves its growth
                held = tuple(c.times(abs(free[at] - scale) / max(abs(scale), 1e-12)) for c in known)
                rows.append(self._row(f"{words} from standstill to {_words(name)}", "growth", pair, scale, "", held))
        return rows

    def _stress(self, ours: Sweep, names: list[str], known: tuple[Cause, ...]) -> list[Row]:
        rows = []
        for name in names:
            at = self.states.at(name)
            pair = (float(ours.rim_bore_hoop_stress[at]), float(self.states.bore_hoop_stress[at]))
            scale = max(abs(pair[1]), 0.02 * float(np.abs(self.states.bore_hoop_stress).max()))
            rows.append(self._row(f"hoop stress at the bore at {_words(name)}", "stress", pair, scale, "", known))
        return rows

    def _float_speed(self, known: tuple[Cause, ...]) -> list[Row]:
        found, own = lifted(self.states), float(float_speed(self.rotor, self.condition).speed)
        theirs = found.by_pressure if found.by_pressure is not None else found.by_clearance
        if theirs is None or not 0.0 < own < np.inf:
            return []
        loads = tuple(cause.times(0.5) for cause in known if cause.of_load)
        return [self._row("float speed", "speed", (own, theirs), theirs, "", loads)]

    def _row(
        self, what: str, kind: str, pair: tuple[float, float], scale: float, of: str, known: tuple[Cause, ...]
    ) -> Row:
        return _row(self.deck, what, kind, pair, scale, of, known)


def _row(
    deck: str, what: str, kind: str, pair: tuple[float, float], scale: float, of: str, known: tuple[Cause, ...]
) -> Row:
    if not scale:
        return Row(deck, what, kind, *pair, None if pair[0] == pair[1] else np.inf, of, "", pair[0] == pair[1])
    difference = 100.0 * (pair[0] - pair[1]) / abs(scale)
    if abs(difference) < ASKS_A_REASON:
        return Row(deck, what, kind, *pair, difference, of, "", True)
    enough = [cause for cause in known if cause.most >= 0.05]
    explained = bool(sum(cause.most for cause in enough) >= abs(difference))
    listed = (
        "; ".join(f"{cause.words}: up to {cause.most:.2g} %" for cause in enough) or "nothing is known to differ here"
    )
    text = listed if explained else f"not explained ({listed}): treat it as a finding"
    return Row(deck, what, kind, *pair, difference, of, text, explained)


def _key_rows(rotor: Rotor, condition: Condition, states: States, force: Floats) -> list[Row]:
    """Force on each key, at standstill and at rated speed."""
    run = key_run(rotor, condition, states.speed)
    known, scale = causes(rotor, states, key_by_key=True), float(force[0].mean())
    if float(rotor.fit.guide_stiffness) and not rotor.fit.tangential_clearance:
        unguided = key_run(replace(rotor, fit=replace(rotor.fit, guide_stiffness=0.0)), condition, states.speed)
        most = 100 * float(np.nanmax(np.abs(unguided.key_force - run.key_force))) / scale
        known += (Cause("tangential guides are not in the deck", 1.05 * most),)
    return [
        _row(
            RING,
            f"force of key {key + 1} at {_words(name)}",
            "force",
            (float(run.key_force[at, key]), float(force[at, key])),
            scale,
            "of the mean at standstill",
            known,
        )
        for at, name in enumerate(states.name)
        for key in range(force.shape[1])
    ]


def _words(name: str) -> str:
    return {"rated": "rated speed", "runaway": "runaway speed"}.get(name, name)
