"""A rotor cut into slices along its length: what each has left, what it yields to, and how the stack ties them.

The mean over the slices is the mean model of `rimmodel.behaviour.contact`. A slice differs from it by its shims, its
temperature and the poles that press on it. With U the free growth of a slice by itself, C_r the compliance of the ring
and K the coupling of the stack (`rimmodel.elastic.stack_coupling`), hoop and stack carry together::

    (u - U)/C_r + K u = p,     so  u = S (C_r p + U),     S = (1 + C_r K)^-1

U holds what the ends curl with the spin (`spin_curl`). S leaves a shift and a cone as they are. Contact is one-sided
in every slice: with the interference i that a free rim leaves, ``A p - i >= 0, p >= 0, p (A p - i) = 0``, where
A = C_r S + C_here (scallop at the keys, keys, spider) if each place of the spider yields by itself. A spider of which
the bars stay straight on two equal supports at both ends moves by ``C_s (mean(p) + 4 zeta mean(p zeta))`` at the height
zeta L above the middle: with its stiffness in the ends a spider resists a tilt as well as it can, three times as well
as one that yields everywhere by itself. What the stack takes from one slice and brings to another counts at the outside
like bore pressure. The pull is that of the mean gap of the mean model. Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Numbers, floats
from rimmodel.behaviour.axial.pressed import pressed_slices
from rimmodel.behaviour.contact.coefficients import Coefficients, Direction, coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.elastic.stack_coupling import spin_curl, stack_coupling
from rimmodel.rotor import Condition, Rotor


@dataclass(frozen=True)
class Stack:
    """What a rim and its spider may be along their length: one of the ends of what is not known.

    Attributes
    ----------
    shear_modulus, axial_modulus : float or array, Pa
        Of the pressed stack across its sheets, gross.
    straight : bool
        The bars of the spider stay straight on supports at both ends; else each place yields by itself.
    """

    shear_modulus: Numbers
    axial_modulus: Numbers
    straight: bool


@dataclass(frozen=True)
class SlicedRotor:
    """n slices of equal length, the lowest first; every field broadcasts with the rotor before the last axis.

    Attributes
    ----------
    model : Coefficients
        Of the mean.
    height : array (n,), -
        Middle of each slice over the length of the rim, from its middle: -1/2 to 1/2.
    poles : array (..., n), -
        Pole load on the slice over the mean; zero where no pole presses.
    hung : array (...), Pa s2
        Mean traction of the poles on the ring per speed squared, without teeth.
    smoothing : array (..., n, n), -
        S.
    yielding : array (..., n, n), m/Pa
        A.
    bars : array (...), m/Pa
        Compliance of a spider of which the bars stay straight; zero for one that yields everywhere by itself.
    tight : array (..., n), m
        Shims over their mean.
    curl : array (..., n), m s2
        Growth of the bore per speed squared by which its ends curl, as the stack evens it out.
    warm_bore, warm_face : array (..., n), m
        Free growth by heat of bore and pole faces over its mean.
    assembled : array (..., n), m
        Growth of the outside at assembly over that of the mean model.
    """

    model: Coefficients
    height: Floats
    poles: Floats
    hung: Floats
    smoothing: Floats
    yielding: Floats
    bars: Floats
    tight: Floats
    curl: Floats
    warm_bore: Floats
    warm_face: Floats
    assembled: Floats

    def load(self, speed_squared: Floats, pull: Floats) -> Floats:
        """Free growth of the bore under the mean load that the poles bring.

        Parameters
        ----------
        speed_squared : array (...), rad2/s2
        pull : array (...), Pa
            On the rim outside.

        Returns
        -------
        array (...), m
        """
        return floats(self.model.bore_per_traction * (self.hung * speed_squared + pull))

    def straight(self, speed_squared: Floats, pull: Floats) -> Floats:
        """Interference that a free rim leaves at each slice but for uneven poles and the curl: linear in height.

        Parameters
        ----------
        speed_squared : array (...), rad2/s2
        pull : array (...), Pa
            On the rim outside.

        Returns
        -------
        array (..., n), m
        """
        mean = floats(self.model.interference(speed_squared, pull))[..., None]
        return floats(mean + self.tight - self.warm_bore)

    def left(self, speed_squared: Floats, pull: Floats) -> Floats:
        """Interference that a free rim leaves at each slice; a clearance where it is below zero.

        Parameters
        ----------
        speed_squared : array (...), rad2/s2
        pull : array (...), Pa
            On the rim outside.

        Returns
        -------
        array (..., n), m
        """
        uneven = self.load(speed_squared, pull)[..., None] * _evened(self.smoothing, self.poles - 1.0)
        return floats(self.straight(speed_squared, pull) - uneven - floats(speed_squared)[..., None] * self.curl)


@dataclass(frozen=True)
class SliceStates:
    """Every slice in every state; NaN where the mean model has no state.

    Attributes
    ----------
    pull : array (...), Pa
        On the rim outside.
    contact_pressure : array (..., n), Pa
    residual_interference : array (..., n), m
        What its pressure takes, or its clearance as a number below zero.
    air_gap : array (..., n), m
        To the pole faces; as if poles stood there where none does.
    """

    pull: Floats
    contact_pressure: Floats
    residual_interference: Floats
    air_gap: Floats


def stacks(rotor: Rotor) -> tuple[Stack, ...]:
    """The ends of what the case leaves open of stack and spider; by definition of the inputs.

    Nothing is known: no stiffness across the sheets or that of solid steel, each with a spider of both kinds.

    >>> import rimmodel as rm
    >>> [(round(end.shear_modulus / 1e9, 1), end.straight) for end in stacks(rm.example_case().rotor)]
    [(0.0, False), (0.0, True), (79.2, False), (79.2, True)]
    """
    axial, steel = rotor.axial, rotor.rim.material
    young = float(np.mean(np.asarray(steel.young_modulus)))
    solid = young / (2.0 * (1.0 + float(np.mean(np.asarray(steel.poisson_ratio)))))
    shear = (0.0, solid) if axial.shear_modulus is None else axial.shear_modulus
    along = tuple(young * value / solid for value in shear) if axial.axial_modulus is None else axial.axial_modulus
    pairs = [(shear[0], along[0]), (shear[1], along[1])]
    kinds = {"local": (False,), "ends": (True,)}.get(axial.spider_yields, (False, True))
    return tuple(Stack(*pair, straight) for pair in dict.fromkeys(pairs) for straight in kinds)


def pole_share(rotor: Rotor) -> Floats:
    """Pole load on each slice over the mean; by definition of the inputs.

    Returns
    -------
    array (..., slices), -

    Poles on the middle half of two slices press on both alike; moved up by an eighth of the length they press on the
    upper one with three quarters of their load:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> rotor = rm.example_case().rotor
    >>> half = Axial(pole_length=rotor.rim.length / 2, pole_rise=rotor.rim.length / 8, slices=2)
    >>> print(pole_share(replace(rotor, axial=half)))
    [0.5 1.5]
    """
    axial = rotor.axial
    edge = np.linspace(-0.5, 0.5, axial.slices + 1)
    if axial.pole_length is None:
        return np.ones(axial.slices)
    length = floats(rotor.rim.length)
    half = floats(0.5 * floats(axial.pole_length) / length)[..., None]
    middle = floats(floats(axial.pole_rise) / length)[..., None]
    low, high = np.maximum(edge[:-1], middle - half), np.minimum(edge[1:], middle + half)
    covered = np.maximum(high - low, 0.0)
    return floats(covered / covered.mean(axis=-1, keepdims=True))


def sliced_rotor(
    rotor: Rotor,
    condition: Condition,
    stack: Stack,
    direction: Direction = None,
    *,
    gaps: bool = True,
    alike: SlicedRotor | None = None,
) -> SlicedRotor:
    """A rotor in a condition cut into the slices of its `axial`; derived at the head of the module.

    Parameters
    ----------
    rotor : Rotor
        Any number may be an array.
    direction : "up", "down" or None
        Direction of the speed, for friction.
    gaps : bool
        False leaves out what gaps alone need, most of the work: `assembled` is then zero.
    alike : SlicedRotor, optional
        Of the same rotor, condition and moduli of the stack: what these make alone is taken over.

    Where nothing differs a free rim leaves each slice what it leaves the mean:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> whole = sliced_rotor(case.rotor, case.conditions["cold"], stacks(case.rotor)[0])
    >>> print(f"{1e3 * np.ptp(whole.left(floats(100.0), floats(0.0))):.3f} mm")
    0.000 mm
    """
    model = coefficients(rotor, condition, direction)
    axial, rim = rotor.axial, rotor.rim
    height = (np.arange(axial.slices) + 0.5) / axial.slices - 0.5
    ring = model.edges.bore_displacement.pressure
    one = np.eye(axial.slices)
    smoothing = _smoothing(rotor, stack, floats(ring)) if alike is None else alike.smoothing
    spider = _spider_alone(rotor, model) if stack.straight else floats(0.0)
    here = floats(model.compliance - ring - spider)
    yielding = (
        floats(ring)[..., None, None] * smoothing + here[..., None, None] * one
        + spider[..., None, None] * (1.0 + 4.0 * np.outer(height, height)) / axial.slices
    )  # fmt: skip
    tight = floats(0.0 if axial.interference_taper is None else axial.interference_taper)[..., None] * height
    expansion = floats(rim.material.thermal_expansion) * floats(condition.rim_temperature_taper)
    warm_bore = (expansion * floats(rim.inner_radius))[..., None] * height
    radius = rim.outer_radius if condition.pole_temperature is not None else rotor.poles.face_radius
    warm_face = (expansion * floats(radius))[..., None] * height
    curl = np.zeros(axial.slices)
    if alike is not None:
        curl = alike.curl
    elif rotor.differs_along(condition):  # an even rim is that of the mean model, ends and all
        couple = spin_curl(rim.ring, rim.length, axial.slices, stack.shear_modulus, stack.axial_modulus)
        curl = _evened(smoothing, floats(ring)[..., None] * couple)
    hung = floats(model.pole_traction - rim.teeth.traction_per_speed_squared)
    found = SlicedRotor(
        model,
        height,
        pole_share(rotor),
        hung,
        smoothing,
        yielding,
        spider,
        tight,
        curl,
        warm_bore,
        warm_face,
        floats(0.0),
    )
    if not gaps:
        return found
    fitted = floats(rotor.fit.interference)
    pressure, _ = pressed_slices(yielding, floats(fitted[..., None] + tight))
    carried = pressure + _brought(found, pressure, np.zeros_like(pressure))
    mean = floats(np.maximum(fitted, 0.0) / model.compliance)
    assembled = floats(model.edges.outer_displacement.pressure)[..., None] * (carried - mean[..., None])
    return SlicedRotor(**{**vars(found), "assembled": assembled})


def _smoothing(rotor: Rotor, stack: Stack, ring: Floats) -> Floats:
    """S (..., n, n), -, for the compliance of the ring."""
    rim, slices = rotor.rim, rotor.axial.slices
    coupling = stack_coupling(rim.ring, rim.length, slices, stack.shear_modulus, stack.axial_modulus)
    if not coupling.any():
        return np.eye(slices)
    return floats(np.linalg.inv(np.eye(slices) + ring[..., None, None] * coupling))


def slice_states(sliced: SlicedRotor, speed_squared: Floats) -> SliceStates:
    """Contact and gap of each slice at speeds; derived at the head of the module.

    Parameters
    ----------
    speed_squared : array (...), rad2/s2
        Broadcasts with the rotor.

    Where nothing differs each slice has the gap of the mean model:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> whole = sliced_rotor(case.rotor, case.conditions["cold"], stacks(case.rotor)[-1])
    >>> mean = rm.sweep(case.rotor, case.conditions["cold"], 13.0).air_gap
    >>> print(f"{1e6 * np.abs(slice_states(whole, floats(169.0)).air_gap - mean).max():.3f} um")
    0.000 um
    """
    model, x = sliced.model, floats(speed_squared)
    pull = contact(model, x).pull
    pressure, clearance = pressed_slices(sliced.yielding, sliced.left(x, pull))
    uneven = sliced.load(x, pull)[..., None] * (sliced.poles - 1.0)
    left = floats(model.compliance)[..., None] * pressure - clearance
    ring = floats(model.edges.bore_displacement.pressure)[..., None]
    line, outer = model.floating, model.edges.outer_displacement
    free = line.at_rest - line.per_speed_squared * x - line.per_traction * pull
    carried = pressure + _brought(sliced, pressure, uneven) + x[..., None] * sliced.curl / ring
    hung = outer.traction * (sliced.hung * x + pull)
    gap = (
        floats(free)[..., None] + sliced.assembled - floats(outer.pressure)[..., None] * carried
        - floats(hung)[..., None] * (sliced.poles - 1.0) - sliced.warm_face
    )  # fmt: skip
    return SliceStates(floats(pull), pressure, floats(left), floats(gap))


def left_by_poles(sliced: SlicedRotor) -> Floats:
    """Growth of the free bore per `load` beyond the mean, at the slices and at the lower and the upper end face.

    By the even spread of the module; at an end no further than the slice there would go by itself.

    Returns
    -------
    array (..., n + 2), -

    Poles that press everywhere alike leave nothing:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> whole = sliced_rotor(case.rotor, case.conditions["cold"], stacks(case.rotor)[-1])
    >>> print(float(np.abs(left_by_poles(whole)).max()))
    0.0
    """
    uneven = sliced.poles - 1.0
    return _with_ends(_evened(sliced.smoothing, uneven), uneven[..., [0, -1]])


def uneven_share(sliced: SlicedRotor) -> Floats:
    """Growth of the free bore per `load` beyond the mean, as the stack evens it out; by the equation of the module.

    Returns
    -------
    array (..., n), -

    Poles that press everywhere alike leave nothing:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> whole = sliced_rotor(case.rotor, case.conditions["cold"], stacks(case.rotor)[-1])
    >>> print(float(np.abs(uneven_share(whole)).max()))
    0.0
    """
    return _evened(sliced.smoothing, sliced.poles - 1.0)


def pressed_by_poles(sliced: SlicedRotor, lost: Floats) -> Floats:
    """Pressure that a rim which is held all along loses per `load`, beyond what the mean of it takes; ends as above.

    By the equation of the module.

    Parameters
    ----------
    lost : array (..., n), Pa/m
        A^-1 of `uneven_share`.

    Returns
    -------
    array (..., n + 2), Pa/m

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> whole = sliced_rotor(case.rotor, case.conditions["cold"], stacks(case.rotor)[-1])
    >>> print(float(np.abs(pressed_by_poles(whole, np.linalg.solve(whole.yielding, uneven_share(whole)))).max()))
    0.0
    """
    uneven = sliced.poles - 1.0
    tilt = 4.0 * (lost * sliced.height).mean(axis=-1, keepdims=True) * np.array([-0.5, 0.5])
    bars = floats(sliced.bars)[..., None] * (lost.mean(axis=-1, keepdims=True) + tilt)
    alone = (uneven[..., [0, -1]] - bars) / floats(sliced.model.compliance - sliced.bars)[..., None]
    return _with_ends(lost, alone)


def straight_ends(linear: Floats) -> Floats:
    """Values carried on to the lower and the upper end face in a straight line; by definition.

    Parameters
    ----------
    linear : array (..., n), unit of linear

    Returns
    -------
    array (..., n + 2), unit of linear

    Four slices of a line from 0 to 1:

    >>> print(straight_ends(np.array([0.125, 0.375, 0.625, 0.875]))[-2:])
    [0. 1.]
    """
    return np.concatenate([linear, 1.5 * linear[..., [0, -1]] - 0.5 * linear[..., [1, -2]]], axis=-1)


def _with_ends(values: Floats, alone: Floats) -> Floats:
    """Values of the slices carried on to both end faces, between that of the last slice and one that stood alone."""
    last = values[..., [0, -1]]
    ends = 1.5 * last - 0.5 * values[..., [1, -2]]
    ends = np.clip(ends, np.minimum(last, alone), np.maximum(last, alone))
    return np.concatenate([values, ends], axis=-1)


def _evened(smoothing: Floats, growth: Floats) -> Floats:
    """S u; the mean of u stays exactly."""
    mean = growth.mean(axis=-1, keepdims=True)
    return floats(mean + np.einsum("...ij,...j->...i", smoothing, growth - mean))


def _brought(sliced: SlicedRotor, pressure: Floats, uneven: Floats) -> Floats:
    """What the stack brings to each slice from the others, as pressure on the bore, Pa."""
    ring = floats(sliced.model.edges.bore_displacement.pressure)[..., None]
    alone = ring * pressure + uneven
    return floats((_evened(sliced.smoothing, alone) - alone) / ring)


def _spider_alone(rotor: Rotor, model: Coefficients) -> Floats:
    """Compliance of the spider without keys, which yield each at its own place."""
    if rotor.key_count is None:
        return floats(model.spider.compliance)
    area = 2.0 * np.pi * floats(rotor.rim.inner_radius) * floats(rotor.rim.length)
    keys = area / (floats(rotor.key_count) * floats(rotor.fit.key_stiffness))
    return floats(model.spider.compliance - keys)
