"""Every lift-off and re-seating of the keys of a rim as its speed rises, none skipped.

Between two events the set of seated keys is fixed, and within one panel the loads are straight lines in x = speed
squared. From the start of such a piece, s = x - start, the stiffness of the modes is R + s K'; with its vibration
shapes V (V^T R V = 1, V^T K' V = rate) every key force, clearance and mode amplitude is in closed form::

    value + slope s + sum_j weight_j s/(1 + rate_j s)

so that the next event is the first root of these, which `first_crossing` finds without sampling. Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.behaviour.keys.complementarity import KeyContact, condensed, settle
from rimmodel.behaviour.keys.crossing import first_crossing, terms

_NEAR = 1e-9
"""Share of the speed squared that is kept off a singular speed."""
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


def follow(loads: KeyLoads) -> KeyPath:
    """Follow the stable state of the rim from standstill to the last node, event by event.

    Returns
    -------
    KeyPath
        At a speed where the state turns unstable the rim is let go (`settle`) and followed from where it lands;
        keys that this lifts or seats are events at that speed.

    Raises
    ------
    ArithmeticError
        Events that follow each other without end, which a sound compliance matrix does not give.

    """
    path, last = KeyPath(), float(loads.nodes[-1])
    place = _standstill(loads, path)
    stiffness = 1.0 / np.diag(loads.compliance)
    full = float(np.max(stiffness * np.abs(loads.interference)))
    for _ in range(60 * loads.interference.size + 4 * loads.nodes.size):
        if place is None or place.x >= last:
            return path
        panel = loads.panel(place.x)
        try:
            table, rate = _table(loads, place, panel)
        except np.linalg.LinAlgError:  # not positive definite: no spring is left against one of the modes
            place = _let_go(loads, path, place)
            continue
        keys = place.seated.size
        # forces throughout: a clearance counts as the force that would close it
        pressing = table[:keys] * np.where(place.seated, 1.0, stiffness)[:, None]
        if place.changed.any() and pressing[place.changed, 1:].sum(axis=1).min() < 0.0:
            # several keys at once, not all of which stay changed
            place = _let_go(loads, path, place, stable=True)
            continue
        edge = float(loads.nodes[panel + 1])
        stop = min(edge, place.x - (1.0 - _NEAR) / float(rate[0])) if rate[0] < 0.0 else edge
        length, touched = first_crossing(pressing, rate, stop - place.x, full)
        end = place.x + length if touched.any() else stop
        piece = Piece(place.x, end, place.seated, table, rate)
        path.pieces.append(piece)
        seated = place.seated ^ touched
        path.events.extend(KeyEvent(end, int(key), bool(seated[key])) for key in np.flatnonzero(touched))
        inverse = _toggled(place.inverse, loads.compliance, seated, touched)
        place = _Place(end, seated, piece.at(end)[keys:], touched, inverse)
        if not touched.any() and stop < edge:
            place = _let_go(loads, path, place)
    raise ArithmeticError("keys: no end of lift-offs and re-seatings; check the compliance of the keys")


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


def _toggled(inverse: Floats, compliance: Floats, seated: Mask, touched: Mask) -> Floats:
    """Inverse with the touched keys in or out as `seated` has them: one bordering step for each, no new inversion."""
    for key in touched.nonzero()[0].tolist():
        if seated[key]:
            column = -(inverse @ compliance[:, key])
            column[key] = 1.0
            inverse = inverse + np.outer(column, column) / float(compliance[key] @ column)
        else:
            column = inverse[:, key]
            inverse = inverse - np.outer(column, column) / float(column[key])
            inverse[key] = inverse[:, key] = 0.0
    return inverse


def _vibration_shapes(stiffness: Floats, soften: Floats) -> tuple[Floats, Floats]:
    """Solve soften V = stiffness V rate with V^T stiffness V = 1; soften is diagonal, stiffness positive definite.

    LAPACK is called directly: the checks around it cost several times the work for so small a matrix.
    """
    from scipy.linalg.lapack import dsygv

    diagonal = np.zeros_like(stiffness)
    diagonal.flat[:: soften.size + 1] = soften
    rate, modes, failed = dsygv(diagonal, stiffness)
    if failed:
        raise np.linalg.LinAlgError("stiffness of the modes is not positive definite")
    return rate, modes


def _table(loads: KeyLoads, place: _Place, panel: int) -> tuple[Floats, Floats]:
    """Closed form from here on with these keys seated: table and rates, the lowest first, of a `Piece`.

    Raises `LinAlgError` when a mode has none left already.
    """
    closing, soften, drive = loads.slopes(panel)
    contact, inverse = loads.moved(place.x, panel, closing, soften, drive), place.inverse
    pushed = contact.shape.T @ inverse
    stiffness = pushed @ contact.shape
    stiffness.flat[:: len(stiffness) + 1] += contact.stiffness
    rate, modes = _vibration_shapes(stiffness, soften)
    load = (pushed @ contact.interference + contact.force) @ modes
    rise = (drive - closing * pushed.sum(axis=1)) @ modes
    # of each vibration shape: (load + rise s)/(1 + rate s) = load + (rise - rate load) s/(1 + rate s)
    mode = np.zeros((rate.size, rate.size + 2))
    mode[:, 0], mode[:, 2:] = modes @ load, modes * (rise - rate * load)
    wanted = -contact.shape @ mode
    wanted[:, 0] += contact.interference
    wanted[:, 1] -= closing
    force = inverse @ wanted
    rows = np.where(place.seated[:, None], force, contact.compliance @ force - wanted)
    return np.concatenate([rows, mode]), rate
