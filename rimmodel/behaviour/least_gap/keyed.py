"""The least gap of a rim on uneven shims: keys one by one in place of the smeared fit.

One rotor is followed key by key, exactly. Of many rotors (samples of a study, neighbours of a measured machine) three
are: the first, the tightest and the loosest; the most that their single keys cost against the smeared rim is taken off
them all. That is on the safe side unless a rotor between them loses more than all three.
"""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import Complex, Floats, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.keys.run import KeyRun, key_run
from rimmodel.behaviour.least_gap.shapes import OVAL, Shapes, bore_shape, magnification, not_placed, shapes
from rimmodel.elastic.lowest_point import lowest_point
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import array_shape, map_arrays

FINE = 0.2e-6
"""m; shorter waves that add less together are taken off as if they lay where the gap is least."""


def keys_matter(rotor: Rotor) -> bool:
    """Whether a rotor describes keys that are not all alike, and well enough to be followed one by one."""
    fit = rotor.fit
    known = fit.key_width is not None and rotor.key_count is not None and fit.key_interference is not None
    return known and float(np.ptp(np.asarray(fit.key_interference))) > 0.0


def keyed_shapes(rotor: Rotor, condition: Condition, run: KeyRun) -> Shapes:
    """Bore and pole faces of a run key by key, at its speeds; derived in `rimmodel.behaviour.keys.keyed_rotor`.

    Where the rim leans on its guides, the play that its centre does not show lies anywhere.

    Parameters
    ----------
    rotor : Rotor
        That of the run, of scalar fields.

    Even shims leave the smeared rim: 5 % of 16 mm for each of four is off at standstill.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Assembly
    >>> case = rm.example_case()
    >>> rotor = replace(case.rotor, assembly=Assembly(), rim=replace(case.rotor.rim, shape=()))
    >>> run = key_run(rotor, case.conditions["cold"], [0.0], key_interference=np.full(14, 2.1e-3))
    >>> found = keyed_shapes(rotor, case.conditions["cold"], run)
    >>> print(f"{1e3 * found.anywhere[0]:.3f} mm, {1e3 * np.abs(found.faces[0, :9]).max():.3f} mm")
    3.200 mm, 0.000 mm
    """
    x = run.speed**2
    model = coefficients(rotor, condition)
    state = contact(model, x)
    faces = run.outer_harmonics.copy()
    faces[:, 0] = 0.0
    lost = np.isnan(run.minimum_gap)
    faces, dropped = _shortened(np.where(lost[:, None], 0.0, faces))
    faces[lost] = np.nan
    leans = np.nan_to_num(run.eccentricity - np.hypot(run.centre[:, 0], run.centre[:, 1]))
    gain = magnification(rotor, condition, model, state, x, OVAL)
    anywhere = dropped + np.maximum(leans, 0.0) + not_placed(rotor, gain) + np.where(lost, np.nan, 0.0)
    return Shapes(run.mean_gap, bore_shape(rotor, condition), faces, floats(anywhere))


def _shortened(faces: Complex) -> tuple[Complex, Floats]:
    """The waves (n, H + 1) without the tail that adds less than `FINE` at any speed, and what it adds (n,), m."""
    tail = np.abs(faces)[:, ::-1].cumsum(axis=1)[:, ::-1]
    kept = max(2, int(np.count_nonzero(tail.max(axis=0) >= FINE)))
    return faces[:, :kept].copy(), floats(tail[:, kept] if kept < faces.shape[1] else np.zeros(len(faces)))


def with_keys(rotor: Rotor, condition: Condition, smeared: Shapes, speed_squared: Floats) -> Shapes:
    """The shapes with keys one by one where their shims are uneven; by the method of the module.

    Parameters
    ----------
    speed_squared : array, rad2/s2

    Even shims change nothing:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> case, still = rm.example_case(), floats(0.0)
    >>> even = replace(case.rotor, fit=replace(case.rotor.fit, key_interference=None))
    >>> model = coefficients(even, case.conditions["cold"])
    >>> found = shapes(even, case.conditions["cold"], model, contact(model, still), still)
    >>> with_keys(even, case.conditions["cold"], found, still) is found
    True
    """
    if not keys_matter(rotor):
        return smeared
    if array_shape(rotor, condition) == ():
        speed = np.sqrt(np.atleast_1d(speed_squared).ravel())
        if not np.isfinite(np.atleast_1d(smeared.mean_gap)).any():
            return smeared
        found = keyed_shapes(rotor, condition, key_run(rotor, condition, speed))
        shape = np.shape(speed_squared)
        return Shapes(
            found.mean_gap.reshape(shape),
            found.bore,
            found.faces.reshape(*shape, found.faces.shape[-1]),
            found.anywhere.reshape(shape),
        )
    return Shapes(
        smeared.mean_gap, smeared.bore, smeared.faces, smeared.anywhere + _most_lost(rotor, condition, speed_squared)
    )


def _most_lost(rotor: Rotor, condition: Condition, speed_squared: Floats) -> float:
    """Most (m) that single keys cost the first, the tightest and the loosest of many rotors."""
    shape = np.broadcast_shapes(array_shape(rotor, condition), np.shape(speed_squared))
    left = np.broadcast_to(contact(coefficients(rotor, condition), speed_squared).residual_interference, shape).ravel()
    known = np.flatnonzero(np.isfinite(left))
    if not known.size:
        return 0.0
    chosen = {int(known[0]), int(known[np.argmin(left[known])]), int(known[np.argmax(left[known])])}
    losses = []
    for place in sorted(chosen):

        def one(leaf: Floats, place: int = place) -> Floats:
            return floats(np.broadcast_to(leaf, shape).ravel()[place])

        own, state, x = map_arrays(rotor, one), map_arrays(condition, one), floats(one(floats(speed_squared)))
        model = coefficients(own, state)
        even = shapes(own, state, model, contact(model, x), x)
        keyed = keyed_shapes(own, state, key_run(own, state, [float(np.sqrt(x))]))
        losses.append(float(_room(even) - _room(keyed)[0]))
    return float(np.max(np.maximum(losses, 0.0)))


def _room(found: Shapes) -> Floats:
    """Mean gap less the crest of the faces and what lies anywhere, m; NaN where there is none."""
    lost = np.asarray(np.isnan(found.faces).any(axis=-1))
    crest = -lowest_point(-np.where(lost[..., None], 0.0, found.faces))[0]
    return floats(found.mean_gap - crest - found.anywhere + np.where(lost, np.nan, 0.0))
