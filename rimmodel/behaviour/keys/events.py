"""What a path of the keys consists of: loads, pieces between events, events; and where a rim starts or comes to rest.

`rimmodel.behaviour.keys.lockstep` follows the path.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.behaviour.keys.complementarity import KeyContact, condensed, settle
from rimmodel.behaviour.keys.crossing import terms

_ABOVE = 1e-7
"""Share of the speed squared by which a released rim is ahead: enough to distinguish the descent from round-off."""


@dataclass(frozen=True)
class KeyLoads:
    """Rim and N keys over a range of speed squared x, all loads of the m modes straight lines between P nodes.

    Attributes
    ----------
    compliance : array (N, N), m/N
        A.
    shape : array (N, m), -
        B.
    interference : array (N,), m
        At the keys, before `closing` is taken off all of them.
    nodes : array (P,), rad2/s2
        Rising from 0.
    closing : array (P,), m
    stiffness : array (P, m), N/m
    force : array (P, m), N
    """

    compliance: Floats
    shape: Floats
    interference: Floats
    nodes: Floats
    closing: Floats
    stiffness: Floats
    force: Floats

    def panel(self, x: float) -> int:
        """Number of the panel that holds x, the later panel at a node."""
        return max(0, min(int(self.nodes.searchsorted(x, side="right")) - 1, self.nodes.size - 2))

    def slopes(self, panel: int) -> tuple[float, Floats, Floats]:
        """Change of closing, stiffness (m,) and force (m,) per x within a panel, SI."""
        width = self.nodes[panel + 1] - self.nodes[panel]
        rise = [(row[panel + 1] - row[panel]) / width for row in (self.closing, self.stiffness, self.force)]
        return float(rise[0]), rise[1], rise[2]

    def at(self, x: float) -> KeyContact:
        """Rim and keys at one speed squared."""
        panel = self.panel(x)
        return self.moved(x, panel, *self.slopes(panel))

    def moved(self, x: float, panel: int, closing: float, stiffness: Floats, force: Floats) -> KeyContact:
        """Rim and keys at x, on the slopes of a panel."""
        step = x - float(self.nodes[panel])
        return KeyContact(
            self.compliance,
            self.shape,
            self.interference - (float(self.closing[panel]) + step * closing),
            self.stiffness[panel] + step * stiffness,
            self.force[panel] + step * force,
        )


@dataclass(frozen=True)
class Piece:
    """A range of x with one set of seated keys.

    Attributes
    ----------
    start, stop : float, rad2/s2
    seated : bool array (N,)
    table : array (N + m, m + 2), SI
        Value, slope and weights of a row for each key (its force where seated, else its clearance)
        and then each mode; see `rimmodel.behaviour.keys.crossing`.
    rate : array (m,), s2/rad2
    """

    start: float
    stop: float
    seated: Mask
    table: Floats
    rate: Floats

    def at(self, x: ArrayLike) -> Floats:
        """Rows (N + m) at each x, shape (..., N + m)."""
        return floats(terms(floats(x) - self.start, self.rate) @ self.table.T)


@dataclass(frozen=True)
class KeyEvent:
    """One key at one speed squared.

    Attributes
    ----------
    speed_squared : float, rad2/s2
    key : int
        From 0.
    seats : bool
        Seated afterwards, or not.
    """

    speed_squared: float
    key: int
    seats: bool


@dataclass
class KeyPath:
    """Pieces and events from standstill on.

    Attributes
    ----------
    lost : list of (float, int), rad2/s2
        x and the mode that ran away, where a stable state ended: 1 is the rim's sideways shift, n its n-th harmonic.
    ends : str
        Why the path stops early, if it does.
    """

    pieces: list[Piece] = field(default_factory=list)
    events: list[KeyEvent] = field(default_factory=list)
    lost: list[tuple[float, int]] = field(default_factory=list)
    ends: str = ""


@dataclass(frozen=True)
class _Place:
    """Where the path has come to: x, the keys seated from here on, the modes, and the keys that just changed.

    `inverse` (N, N) is that of the compliance over the seated keys, zero in the rows and columns of the others.
    """

    x: float
    seated: Mask
    mode: Floats
    changed: Mask
    inverse: Floats


def _standstill(loads: KeyLoads, path: KeyPath) -> _Place | None:
    """State at standstill; where the rim rests on nothing there, at a small speed that throws it onto its keys."""
    keys, modes = loads.shape.shape
    state, x = settle(loads.at(0.0), np.zeros(modes), np.ones(keys, dtype=bool)), 0.0
    if state is None:
        path.lost.append((0.0, 1))
        x = 1e-6 * float(loads.nodes[-1])
        state = settle(loads.at(x), np.zeros(modes))
    if state is None:
        path.ends = "no key holds the rim at standstill"
        return None
    path.events.extend(KeyEvent(0.0, int(key), False) for key in np.flatnonzero(~state.seated))
    return _Place(x, state.seated, state.mode, np.zeros(keys, dtype=bool), _inverse(loads.compliance, state.seated))


def _let_go(loads: KeyLoads, path: KeyPath, place: _Place, stable: bool = False) -> _Place | None:
    """Let the rim run from where its state ends to where it rests a shade above; notes what was lost."""
    if not stable:
        descent = np.linalg.eigh(condensed(loads.at(place.x), place.seated)[2])[1][:, 0]
        path.lost.append((place.x, int(np.argmax(descent[0::2] ** 2 + descent[1::2] ** 2)) + 1))
    above = place.x * (1.0 + _ABOVE)
    state = settle(loads.at(above), place.mode, place.seated)
    if state is None:
        path.ends = "no stable state remains: the keys do not restrain the rim"
        return None
    changed = np.flatnonzero(state.seated ^ place.seated)
    path.events.extend(KeyEvent(place.x, int(key), bool(state.seated[key])) for key in changed)
    none = np.zeros(place.seated.size, dtype=bool)
    return _Place(above, state.seated, state.mode, none, _inverse(loads.compliance, state.seated))


def _inverse(compliance: Floats, seated: Mask) -> Floats:
    """Inverse of the compliance over the seated keys, zero in the rows and columns of the others."""
    inverse = np.zeros_like(compliance)
    inverse[np.ix_(seated, seated)] = np.linalg.inv(compliance[seated][:, seated])
    return inverse
