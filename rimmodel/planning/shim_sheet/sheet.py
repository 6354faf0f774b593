"""The shim sheet: which pieces go behind each key, what that reaches, and the readings that accept it."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats, Interval, Mask, Places, floats
from rimmodel.evidence.measured.measure import Measurement
from rimmodel.evidence.shims.readings import KeyReadings
from rimmodel.planning.predicted import standard_errors
from rimmodel.planning.shim_sheet.lift_off import highest_lift_off
from rimmodel.planning.shim_sheet.packs import change_of, packs_behind, pieces_used, within
from rimmodel.planning.shim_sheet.promise import CONFIDENCE, Promise, ShimErrors, drawn_errors, promised
from rimmodel.planning.shim_sheet.rim import ShimmedRim, State
from rimmodel.planning.shim_sheet.search import WIDTHS, Task, best_packs
from rimmodel.planning.shim_sheet.start import Start, exact, start_of
from rimmodel.planning.shrink_window import ShrinkWindow, shrink_window
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.shim_stock import ShimStock
from rimmodel.units import mm

ROUND, LIFT_OFF = "round", "lift-off"
GOALS = (ROUND, LIFT_OFF)
_UNEVEN = 1.25
"""Largest key force over the mean above which it is pointed out."""


@dataclass(frozen=True)
class ShimSheet:
    """Which pieces to fit behind each of N keys, of T thicknesses, and what that promises.

    Attributes
    ----------
    goal, condition : str
        What was sought; the condition of a lift-off.
    pieces : int array (N, T)
    out : bool array (N,)
        Whether the present pack comes out first.
    taken : array (N,), m
        Thickness that comes out.
    reached, bound : float, SI
        Root mean square (m) of the expected deviation, or first lift-off (rad/s); and what no choice betters.
    before_limit, after_limit : array (N,), m
        Half-width in which a reading repeated before, and one after, must lie.
    mean_limit : float, m
        The same for the mean of the readings after.
    pack_limit : array (N,), m
        Half-width of the thickness of the new pieces of a pack.
    pole_angle : array (P,), rad
    low, high : float, m
        Of the mean interference that was allowed, the errors deducted.
    """

    goal: str
    condition: str
    shims: ShimStock
    start: Start
    window: ShrinkWindow
    present: State
    planned: State
    pieces: Places
    out: Mask
    taken: Floats
    reached: float
    bound: float
    promise: Promise
    before_limit: Floats
    after_limit: Floats
    mean_limit: float
    pack_limit: Floats
    pole_angle: Floats
    low: float
    high: float
    ageing: bool
    cautions: tuple[str, ...]

    @property
    def change(self) -> Floats:
        """Of each key (N,), m."""
        return floats(self.planned.keys - self.present.keys)

    @property
    def proven(self) -> bool:
        """Whether no choice is better, to a tenth of a micrometre or of a revolution in ten thousand."""
        return abs(self.reached - self.bound) <= (1e-7 if self.goal == ROUND else 1e-4 * self.reached)


def shim_sheet(
    case: Case,
    measurement: Measurement | None = None,
    readings: KeyReadings | None = None,
    goal: str = ROUND,
    condition: str | None = None,
) -> ShimSheet:
    """The shim sheet of a case.

    Parameters
    ----------
    measurement : Measurement, optional
        Of the last run: its mean interference then is the level, and readings say how the keys differ.
    readings : KeyReadings, optional
        In place of the interferences that the case states key by key.
    goal : str
        "round": least root mean square of the deviation of the pressed rim that is to be expected, errors of the
        pieces included. "lift-off": highest speed of the first lift-off in a condition.
    condition : str, optional
        Of the lift-off; the first of the case by default.

    Raises
    ------
    ValueError
        No stock, no readings, keys that cannot be followed one by one, no window, or no pieces that fit it.

    >>> import rimmodel as rm
    >>> sheet = shim_sheet(rm.example_case())
    >>> bool(sheet.reached - sheet.bound < 1e-6 and sheet.planned.largest < sheet.present.largest)
    True
    """
    if goal not in GOALS:
        raise ValueError(f"goal is {goal!r}; it must be 'round' or 'lift-off'")
    shims = _shims_of(case)
    named, _ = case.condition(condition)
    now, start = start_of(case, shims, measurement, readings)
    window, level_known = _window(case, measurement, readings)
    rim = ShimmedRim(now.rotor, case.conditions, start)
    low, high, ageing = _allowed(window, start, shims, level_known, goal)
    task = _task(rim, shims, start, (low, high), (max(window.low_sure, 0.0), window.high_sure))
    chosen, reached, bound = _solve(task, rim, named, goal)
    pieces, keys = pieces_used(task.packs, chosen), start.keys + change_of(task.packs, chosen)
    out = np.array([row.out[pack] for row, pack in zip(task.packs, chosen, strict=True)])
    planned, present = rim.state(keys), rim.state(start.keys)
    _refuse_loose(planned)
    promise = promised(
        keys, rim.outline, rim.pressings, rim.highest, start.errors, drawn_errors(start.errors, pieces, out), CONFIDENCE
    )
    if goal == ROUND:
        reached, bound = (math.sqrt(value + rim.expected_square(start.errors)) for value in (reached, bound))
    limits = _limits(start.errors, pieces, out)
    sheet = ShimSheet(
        goal, named, shims, start, window, present, planned, pieces, out,
        np.where(out, np.array(shims.present_packs or np.zeros(keys.size)), 0.0), reached, bound, promise, *limits,
        rim.pole_angle, low, high, ageing, (),
    )  # fmt: skip
    return replace(sheet, cautions=_cautions(case, sheet))


def _shims_of(case: Case) -> ShimStock:
    if case.shims is None:
        raise ValueError(
            'the case has no table [shims]; list there what is in the store: stock = [{ thickness = "0.1 mm", '
            "pieces = 24 }]"
        )
    if case.rotor.key_count is None or case.rotor.fit.key_width is None:
        raise ValueError(
            "a shim sheet needs fit.key_width and the number of keys (fit.key_count, or spider arms); add them to the "
            "case"
        )
    return case.shims


def _window(case: Case, measurement: Measurement | None, readings: KeyReadings | None) -> tuple[ShrinkWindow, bool]:
    """The window of the mean interference, and whether its edges hold the error of the level."""
    measured = measurement is not None and measurement.sets_interference
    window = shrink_window(case if measured else replace(case, rotor=exact(case.rotor)), measurement)
    if not window.exists:
        raise ValueError(f"no shim sheet: {window.statement}")
    return window, measured


def _allowed(
    window: ShrinkWindow, start: Start, shims: ShimStock, level_known: bool, goal: str
) -> tuple[float, float, bool]:
    """Lowest and highest mean interference to aim at, m, and whether ageing is covered."""
    errors, keys = start.errors, start.keys.size
    of_reading = 0.0 if level_known else float(errors.of_reading(keys, "neighbours").sum()) / keys**2
    of_pieces = errors.piece * float(shims.most_pieces)  # all of one sheet and wrong alike
    about = math.sqrt((0.0 if level_known else errors.level) ** 2 + of_reading + of_pieces**2)
    margin = standard_errors(1.0 - 2.0 * (1.0 - CONFIDENCE) / (2.0 + len(errors.relative))) * about
    low, high = max(window.low_sure, 0.0) + margin, window.high_sure - margin
    if low > high:
        raise ValueError(
            f"no stock fits: the window from {mm(max(window.low_sure, 0.0))} to {mm(window.high_sure)} is narrower "
            f"than the errors of readings and pieces, {mm(margin)} to each side; read the keys closer or fit fewer "
            "pieces (shims.most_pieces)"
        )
    aged = max(window.low_sure, 0.0) / (1.0 - window.relaxation_share) + margin
    fits = aged + min(row.thickness for row in shims.stock) <= high
    return (aged if fits and goal == ROUND else low), high, bool(fits)


def _task(rim: ShimmedRim, shims: ShimStock, start: Start, mean: Interval, each: Interval) -> Task:
    (low, high), packs = mean, packs_behind(shims, start.keys.size)
    least = float(start.keys.mean() + np.mean([row.change.min() for row in packs]))
    most = float(start.keys.mean() + np.mean([row.change.max() for row in packs]))
    if least > high:
        raise ValueError(
            f"no stock fits: a mean interference of at most {mm(high)} is allowed and {mm(least)} is the least that "
            f"the packs leave, which would take negative shims; "
            + (
                "state in shims.present_packs what can be taken out behind each key, or machine the key bars"
                if shims.present_packs is None
                else "more must come out than shims.present_packs holds: machine the key bars"
            )
        )
    if most < low:
        raise ValueError(
            f"no stock fits: a mean interference of at least {mm(low)} is needed and {mm(most)} is the most that "
            f"{shims.most_pieces:g} pieces behind a key reach; add thicker shims to shims.stock or raise "
            "shims.most_pieces"
        )
    packs = within(packs, start.keys, *each)
    matrix, rest = rim.outline
    scale = 1.0 / math.sqrt(len(rest))
    price = start.errors.piece**2 * (matrix**2).sum(axis=0) / len(rest)
    return Task(matrix * scale, rest * scale, start.keys, packs, price, shims, low, high, each)


def _solve(task: Task, rim: ShimmedRim, condition: str, goal: str) -> tuple[Places, float, float]:
    """Packs, and what they reach with its bound: mean square (m2), or speed (rad/s)."""
    found = None
    for widths in (None,) if goal == ROUND else (WIDTHS, None):
        with suppress(ArithmeticError):  # stock or mean are so narrow that every branch that was followed ends
            found = best_packs(task, widths)
            break
    if found is None:
        raise ValueError(
            f"no stock fits: no whole pieces of shims.stock bring the mean interference between {mm(task.low, '.3f')} "
            f"and {mm(task.high, '.3f')}; add pieces, or thinner ones, to shims.stock"
        )
    if goal == ROUND:
        return found.chosen, found.value, found.bound
    starts = [found.chosen, *_tight_starts(task)]
    if any(math.isinf(rim.first_lift_off(condition, task.present + change_of(task.packs, one))[0]) for one in starts):
        raise ValueError(
            f"no key lifts off in '{condition}' up to the highest speed that is followed; ask for the goal 'round' "
            "(--goal round)"
        )
    highest = highest_lift_off(
        task, starts, rim.pressings[condition], lambda keys: rim.first_lift_off(condition, keys)[0] ** 2
    )
    return highest.chosen, math.sqrt(highest.value), math.sqrt(highest.bound)


def _tight_starts(task: Task) -> list[Places]:
    """The evenest choices close below the highest mean that window and stock allow, where there are any."""
    sizes = np.sort(np.repeat([row.thickness for row in task.shims.stock], task.stock))[::-1]
    room = float(sizes[: task.present.size * int(task.shims.most_pieces)].sum()) / task.present.size
    top = min(task.high, float(task.present.mean()) + room)
    starts = []
    for steps in (1.0, 3.0):
        with suppress(ArithmeticError):
            found = best_packs(replace(task, low=max(task.low, top - steps * float(sizes[-1]))), WIDTHS)
            starts += [] if found is None else [found.chosen]
    return starts


def _refuse_loose(planned: State) -> None:
    loose = np.flatnonzero(planned.force <= 0.0) + 1
    if loose.size:
        raise ValueError(
            f"no stock fits: key {', '.join(map(str, loose))} would stay loose at standstill with the packs chosen; "
            "add thicker shims to shims.stock, or check the readings of those keys"
        )


def _limits(errors: ShimErrors, pieces: Places, out: Mask) -> tuple[Floats, Floats, float, Floats]:
    """Half-widths of readings before and after, of their mean, and of the new packs: 95 % for all keys together."""
    keys = len(pieces)
    each = standard_errors(1.0 - (1.0 - CONFIDENCE) / keys)
    square = (pieces**2).sum(axis=1).astype(float)  # the pieces of one thickness wrong alike
    own = errors.piece**2 * np.maximum(square, pieces.sum(axis=1))
    read = 2.0 * errors.reading**2
    mean = 2.0 * float(errors.of_reading(keys, "neighbours").sum()) / keys**2
    mean += errors.piece**2 * float(((pieces.sum(axis=0) / keys) ** 2).sum() + out.sum() / keys**2)
    return (
        np.full(keys, each * math.sqrt(read)),
        each * np.sqrt(read + own + out * errors.piece**2),
        standard_errors(CONFIDENCE) * math.sqrt(mean),
        each * np.sqrt(own),
    )


def _cautions(case: Case, sheet: ShimSheet) -> tuple[str, ...]:
    """What keeps the sheet from being taken for more than it is."""
    allowed = float(case.rotor.assembly.rotor_circularity_share) * float(case.rotor.air_gap.cold)
    found = list(sheet.start.doubts)
    if sheet.promise.deviation > allowed:
        found.append(
            f"The assembly tolerance of the rotor's circularity, {mm(allowed)}, cannot be promised with these readings."
        )
    most = float(np.argmax(sheet.planned.force)), float(sheet.planned.force.max() / sheet.planned.force.mean())
    if most[1] > _UNEVEN:
        found.append(
            f"Key {most[0] + 1:g} presses {most[1]:.2f} times as hard as the mean key at standstill. The limits of the "
            "window are those of an even fit: check its arm, key and key bar under that force."
        )
    if sheet.present.force.min() <= 0.0:
        loose = ", ".join(map(str, np.flatnonzero(sheet.present.force <= 0.0) + 1))
        found.append(f"Key {loose} is loose now at standstill; the radii now are those of a rim on all of its keys.")
    if not sheet.ageing:
        found.append("The window leaves no room for the ageing that the case allows for (limits.relaxation_share).")
    for name, speed in sheet.promise.first_lift_off.items():
        if math.isnan(speed):
            found.append(f"No first lift-off can be promised for '{name}': the float speed there has no interval.")
        elif speed <= float(case.rotor.speeds.rated):
            found.append(
                f"In '{name}' a key may lift off below rated speed even with these shims: the fit is not even enough, "
                "or not known well enough, to rule it out."
            )
    return tuple(found)
