"""What a followed path says: its events with speeds, the characteristic speeds, and the notes a reader needs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.behaviour.contact.coefficients import Coefficients
from rimmodel.behaviour.contact.state import lift_off_speed_squared
from rimmodel.behaviour.keys.events import KeyPath
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor
from rimmodel.units import in_mm, rpm


@dataclass(frozen=True)
class RunEvent:
    """One key that lifts off or re-seats.

    Attributes
    ----------
    speed : float, rad/s
    key : int
        From 1.
    kind : "lift-off" or "re-seating"
    """

    speed: float
    key: int
    kind: Literal["lift-off", "re-seating"]


@dataclass(frozen=True)
class KeySpeeds:
    """Speeds at which something happens to the fit as a whole, None where there is none up to the end of the path.

    Attributes
    ----------
    first_lift_off : float, rad/s
        The first key loses its force (0: a key is loose at standstill).
    centring_lost : float, rad/s
        The keys still seated no longer hold the rim against spin and pull, and it runs off centre.
    last_lift_off : float, rad/s
        From here on no key is seated and the rim floats centred, which only guides make a stable state.
    one_sided : float, rad/s
        Without guides, the seated keys no longer surround the rim, which leans on those that are left.
    shape_lost : float, rad/s
        As centring lost, but for a flexural mode that the pull drives.
    mean_float : float, rad/s
        Lift-off of an even fit of the mean interference.
    """

    first_lift_off: float | None
    centring_lost: float | None
    last_lift_off: float | None
    one_sided: float | None
    shape_lost: float | None
    mean_float: float


def run_events(path: KeyPath) -> tuple[RunEvent, ...]:
    """Events of a path with speeds in rad/s and keys from 1."""
    return tuple(
        RunEvent(float(np.sqrt(event.speed_squared)), event.key + 1, "re-seating" if event.seats else "lift-off")
        for event in path.events
    )


def key_speeds(keyed: KeyedRotor, path: KeyPath) -> KeySpeeds:
    """Characteristic speeds of a followed path."""
    off = [event.speed_squared for event in path.events if not event.seats]
    lost = {harmonic > 1: x for x, harmonic in reversed(path.lost)}
    seated, last = keyed.key_angle.size, None
    for event in path.events:
        seated += 1 if event.seats else -1
        if seated == 0 and not any(abs(event.speed_squared - x) <= 1e-12 * x for x, _ in path.lost):
            last = event.speed_squared
    held = np.array([piece.seated for piece in path.pieces], dtype=bool).reshape(-1, keyed.key_angle.size)
    around = surrounded(keyed.key_angle, held)
    leaning = (piece.start for piece, centred in zip(path.pieces, around, strict=True) if not centred)
    return KeySpeeds(
        first_lift_off=_root(min(off, default=None)),
        centring_lost=_root(lost.get(False)),
        last_lift_off=_root(last),
        one_sided=None if guided(keyed) else _root(next(leaning, None)),
        shape_lost=_root(lost.get(True)),
        mean_float=mean_float(keyed),
    )


def mean_float(keyed: KeyedRotor) -> float:
    """Speed at which an even fit of the mean interference lifts off; inf where speed never does that.

    By `lift_off_speed_squared`; derived here.

    Returns
    -------
    float, rad/s

    Keys of 2.1 mm throughout are the even fit itself:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
    >>> case = rm.example_case()
    >>> even = keyed_rotor(case.rotor, case.conditions["cold"], np.full(14, 2.1e-3))
    >>> print(f"{mean_float(even) / rm.float_speed(case.rotor, case.conditions['cold']).speed:.6f}")
    1.000000
    """
    return float(even_float(keyed.gap_model, keyed.loads.interference))


def even_float(model: Coefficients, interference: Floats) -> Floats:
    """`mean_float` of many sets of keys on one rotor; derived here.

    Parameters
    ----------
    model : Coefficients
        The smeared fit of the rotor.
    interference : array (..., N), m
        Left at the keys at standstill.

    Returns
    -------
    array (...), rad/s

    Twice the interference lifts off at the root of twice the speed where there is no field:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> once, twice = even_float(model, np.array([[1e-3, 2e-3], [2e-3, 4e-3]]))
    >>> print(f"{twice / once:.6f}")
    1.414214
    """
    model = replace(model, at_rest=floats(interference.mean(axis=-1)))
    if not model.net_growth > 0.0:
        return np.full(model.at_rest.shape, np.inf)
    return floats(np.sqrt(np.maximum(lift_off_speed_squared(model)[0], 0.0)))


def guided(keyed: KeyedRotor) -> bool:
    """Whether guides without play hold the rim centred."""
    return not keyed.rotor.fit.tangential_clearance and bool(keyed.rotor.fit.guide_stiffness)


def all_alike(keyed: KeyedRotor) -> bool:
    """Whether all keys are interchangeable: equal shims and supports, no eccentricity, no shape as built."""
    loads, own = keyed.loads, np.diag(keyed.loads.compliance)
    even = bool(np.ptp(loads.interference) <= 1e-9 * np.max(np.abs(loads.interference), initial=1e-12))
    return even and bool(np.ptp(own) <= 1e-9 * own.max()) and not np.any(loads.force)


def _root(x: float | None) -> float | None:
    return None if x is None else float(np.sqrt(x))


def surrounded(angle: Floats, seated: Mask) -> Mask:
    """Whether the seated keys, three at least, leave no half turn free.

    Parameters
    ----------
    angle : array (N,), rad
        Of each key.
    seated : bool array (..., N)

    Returns
    -------
    bool array (...)

    >>> third = np.deg2rad([0.0, 120.0, 240.0, 300.0])
    >>> surrounded(third, np.array([[True, True, True, False], [True, False, True, True]])).tolist()
    [True, False]
    """
    turned = np.mod(angle, 2.0 * np.pi)
    order = np.argsort(turned)
    seated = seated[..., order]
    twice = np.append(turned[order], turned[order] + 2.0 * np.pi)  # round, to find the next seated key of each
    place = np.where(np.concatenate([seated, seated], axis=-1), twice, np.inf)
    ahead = np.minimum.accumulate(place[..., ::-1], axis=-1)[..., ::-1][..., 1 : angle.size + 1]
    free = np.where(seated, ahead - turned[order], 0.0).max(axis=-1, initial=0.0)
    held: Mask = (free < np.pi * (1.0 - 1e-9)) & (seated.sum(axis=-1) > 2)
    return held


def run_notes(
    keyed: KeyedRotor, path: KeyPath, marks: KeySpeeds, events: tuple[RunEvent, ...], missing: bool
) -> tuple[str, ...]:
    """What a reader of the numbers has to know, in plain words."""
    fit = keyed.rotor.fit
    notes = [
        f"spin and magnetic pull act on the rigid shift of the rim and on its harmonics 2 to {keyed.harmonic.size:g}"
    ]
    if marks.first_lift_off == 0.0:
        loose = [str(event.key) for event in events if event.speed == 0.0 and event.kind == "lift-off"]
        notes.append(f"loose at standstill: key {', '.join(loose)}")
    elif marks.first_lift_off is not None and np.isfinite(marks.mean_float):
        share = marks.first_lift_off / marks.mean_float
        notes.append(f"the first key lifts off at {share:.3f} times the float speed of the mean interference")
    elif marks.first_lift_off is None:
        notes.append(f"no key lifts off up to {rpm(np.sqrt(keyed.loads.nodes[-1]), '.0f')}")
    if marks.centring_lost is not None:
        where = f"above {rpm(marks.centring_lost)} the seated keys no longer centre the rim"
        notes.append(f"{where}: it moves off centre and rests on a few of them; the side is arbitrary")
    if marks.one_sided is not None:
        notes.append(f"from {rpm(marks.one_sided)} on the rim rests on keys of one side; the others stand clear")
    if (marks.centring_lost is not None or marks.one_sided is not None) and all_alike(keyed):
        lost = min(mark for mark in (marks.centring_lost, marks.one_sided) if mark is not None)
        notes.append(
            f"all keys are alike, so above {rpm(lost)} many states are equally possible: which keys lift off or stay "
            "seated, to which side the rim moves, and where single keys seat again, is arbitrary; the speeds up to "
            "that and the eccentricity are not"
        )
    if marks.centring_lost is not None or marks.one_sided is not None:
        play = in_mm(float(fit.tangential_clearance or 0.0))
        notes.append(
            f"the largest eccentricity is then the tangential clearance, {play:.3g} mm"
            if play
            else "no tangential clearance is given: the eccentricity is then that of the rim resting on its keys"
        )
    if marks.shape_lost is not None:
        notes.append(
            f"the magnetic pull exceeds the stiffness of a flexural mode of the rim at {rpm(marks.shape_lost)}"
        )
    if marks.last_lift_off is None and marks.first_lift_off is not None and not fit.guide_stiffness:
        notes.append("without guides there is no state with all keys off: a few keys stay in contact with the rim")
    if path.ends:
        notes.append(path.ends)
    if missing:
        notes.append("no equilibrium exists at one or more of the speeds; they are left out")
    return tuple(notes)
