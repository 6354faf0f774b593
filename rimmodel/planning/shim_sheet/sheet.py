"""The shim sheet: which pieces go behind each key, what that reaches, and the readings that accept it."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats, Interval, Mask, Places, floats
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.shims.readings import KeyReadings
from rimmodel.planning.shim_sheet.aim import (
    Aim,
    aim_of,
    limits_of,
    lower_edge,
    reading_limit,
    refuse_poor_readings,
    room_of,
    upper_edge,
)
from rimmodel.planning.shim_sheet.lift_off import highest_lift_off
from rimmodel.planning.shim_sheet.packs import GRAIN, change_of, packs_behind, pieces_used, within
from rimmodel.planning.shim_sheet.promise import CONFIDENCE, Promise, drawn_errors, promised
from rimmodel.planning.shim_sheet.rim import ShimmedRim, State
from rimmodel.planning.shim_sheet.roundness import Roundness
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
_WORSE = 0.5e-6
"""Metres by which a radius or an offset must grow to be called worse: half of what the sheet prints."""


class NoneFitError(ValueError):
    """No whole pieces of the stock bring the mean interference where it is wanted."""


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
    aim : Aim
        The mean interference that was allowed.
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
    aim: Aim
    cautions: tuple[str, ...]

    @property
    def change(self) -> Floats:
        """Of each key (N,), m."""
        return floats(self.planned.keys - self.present.keys)

    @property
    def ageing(self) -> bool:
        """Whether the mean stays in the window after the ageing that the case allows for."""
        return self.planned.mean >= self.aim.aged - GRAIN

    @property
    def above(self) -> tuple[int, ...]:
        """Keys, from 1, that may pass their limits after and be above the upper edge of the window."""
        over = self.planned.keys + self.after_limit > self.window.high_sure
        return tuple(int(key) + 1 for key in np.flatnonzero(over))

    @property
    def edges(self) -> tuple[str, str]:
        """The edges of the window in words, rounded inwards."""
        return lower_edge(self.window), upper_edge(self.window)

    @property
    def above_words(self) -> str:
        """Those keys in words."""
        if len(self.above) == self.planned.keys.size:
            return "every key"
        return ("key " if len(self.above) == 1 else "keys ") + ", ".join(map(str, self.above))

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
        pieces included. "lift-off": highest speed of the first lift-off in a condition, with no more deviation of
        the rim and no more offset of its centre than now or than the roundest choice, whichever is more.
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
    refuse_poor_readings(start.errors, window, reading_limit(start.errors, start.keys.size))
    aim = aim_of(window, start, shims, level_known=level_known, for_ageing=goal == ROUND)
    aim, task, (chosen, reached, bound) = _searched(rim, shims, window, aim, named, goal)
    pieces, keys = pieces_used(task.packs, chosen), start.keys + change_of(task.packs, chosen)
    out = np.array([row.out[pack] for row, pack in zip(task.packs, chosen, strict=True)])
    planned, present = rim.state(keys), rim.state(start.keys)
    _refuse_loose(planned)
    promise = promised(
        keys, rim.outline, rim.pressings, rim.highest, start.errors, drawn_errors(start.errors, pieces, out), CONFIDENCE
    )
    if goal == ROUND:
        reached, bound = (math.sqrt(value + rim.expected_square(start.errors)) for value in (reached, bound))
    limits = limits_of(start.errors, pieces, out)
    refuse_poor_readings(start.errors, window, limits[1])
    sheet = ShimSheet(
        goal, named, shims, start, window, present, planned, pieces, out,
        np.where(out, np.array(shims.present_packs or np.zeros(keys.size)), 0.0), reached, bound, promise, *limits,
        rim.pole_angle, aim, (),
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


def _task(rim: ShimmedRim, shims: ShimStock, start: Start, mean: Interval, each: Interval) -> Task:
    (low, high), packs = mean, packs_behind(shims, start.keys.size)
    least = float(start.keys.mean() + np.mean([row.change.min() for row in packs]))
    most = float(start.keys.mean() + np.mean([row.change.max() for row in packs]))
    if least > high:
        raise ValueError(
            f"no stock fits: a mean interference of at most {_most(high)} is allowed and {mm(least, '.3f')} is the "
            f"least that the packs leave, which would take negative shims; "
            + (
                "state in shims.present_packs what can be taken out behind each key, or machine the key bars"
                if shims.present_packs is None
                else "more must come out than shims.present_packs holds: machine the key bars"
            )
        )
    if most < low:
        raise ValueError(
            f"no stock fits: a mean interference of at least {_least(low)} is needed and {mm(most, '.3f')} is the most "
            f"that {shims.most_pieces:g} pieces behind a key reach; add thicker shims to shims.stock or raise "
            "shims.most_pieces"
        )
    packs = within(packs, start.keys, *each)
    matrix, rest = rim.outline
    scale = 1.0 / math.sqrt(len(rest))
    price = start.errors.piece**2 * (matrix**2).sum(axis=0) / len(rest)
    return Task(matrix * scale, rest * scale, start.keys, packs, price, shims, low, high, each)


def _searched(
    rim: ShimmedRim, shims: ShimStock, window: ShrinkWindow, aim: Aim, condition: str, goal: str
) -> tuple[Aim, Task, tuple[Places, float, float]]:
    """Packs that cover ageing, or, where whole pieces reach no such mean, any that the window allows."""
    start, each = rim.start, (max(window.low_sure, 0.0), window.high_sure)
    whole = replace(aim, low=aim.least, why=aim.why or "no whole pieces of the stock bring the mean there")
    for sought in [aim, whole] if aim.low > aim.least else [aim]:
        task = _task(rim, shims, start, (sought.low, sought.high), each)
        try:
            return sought, task, _solve(task, rim, condition, goal)
        except NoneFitError:
            if sought.low <= aim.least:
                raise
    raise AssertionError("the last search returns or raises")


def _solve(task: Task, rim: ShimmedRim, condition: str, goal: str) -> tuple[Places, float, float]:
    """Packs, and what they reach with its bound: mean square (m2), or speed (rad/s)."""
    found = None
    for widths in (None,) if goal == ROUND else (WIDTHS, None):
        with suppress(ArithmeticError):  # stock or mean are so narrow that every branch that was followed ends
            found = best_packs(task, widths)
            break
    if found is None:
        raise NoneFitError(
            f"no stock fits: no whole pieces of shims.stock bring the mean interference between {_least(task.low)} "
            f"and {_most(task.high)}; add pieces, or thinner ones, to shims.stock"
        )
    if goal == ROUND:
        return found.chosen, found.value, found.bound
    starts = [found.chosen, *_tight_starts(task)]
    roundest = task.present + change_of(task.packs, found.chosen)
    roundness = Roundness.of_the_worst(rim.outline, [task.present, roundest])
    if any(math.isinf(rim.first_lift_off(condition, task.present + change_of(task.packs, one))[0]) for one in starts):
        raise ValueError(
            f"no key lifts off in '{condition}' up to the highest speed that is followed; ask for the goal 'round' "
            "(--goal round)"
        )
    highest = highest_lift_off(
        task, starts, rim.pressings[condition], lambda keys: rim.first_lift_off(condition, keys)[0] ** 2, roundness
    )
    return highest.chosen, math.sqrt(highest.value), math.sqrt(highest.bound)


def _least(length: float) -> str:
    return mm(math.ceil(length / 1e-6 - 1e-6) * 1e-6, ".3f")


def _most(length: float) -> str:
    return mm(math.floor(length / 1e-6 + 1e-6) * 1e-6, ".3f")


def _tight_starts(task: Task) -> list[Places]:
    """The evenest choices close below the highest mean that window and stock allow, where there are any."""
    thinnest = min(row.thickness for row in task.shims.stock)
    top = min(task.high, float(task.present.mean()) + room_of(task.shims, task.present.size))
    starts = []
    for steps in (1.0, 3.0):
        with suppress(ArithmeticError):
            found = best_packs(replace(task, low=max(task.low, top - steps * thinnest)), WIDTHS)
            starts += [] if found is None else [found.chosen]
    return starts


def _refuse_loose(planned: State) -> None:
    loose = np.flatnonzero(planned.force <= 0.0) + 1
    if loose.size:
        raise ValueError(
            f"no stock fits: key {', '.join(map(str, loose))} would stay loose at standstill with the packs chosen; "
            "add thicker shims to shims.stock, or check the readings of those keys"
        )


def _of_window(sheet: ShimSheet) -> list[str]:
    """Which keys the window does not hold for, and the ageing that it leaves no room for."""
    found, edge = [], upper_edge(sheet.window)
    if sheet.above:
        keys, top = sheet.above_words.capitalize(), float((sheet.planned.keys + sheet.after_limit).max())
        found.append(
            f"The window, {lower_edge(sheet.window)} to {edge}, holds for the mean of the keys only. {keys} can "
            f"read within the limits after and be above {edge}, at most {_least(top)}: the limit that ends the window "
            "is not shown to hold at that single arm, key and key bar. Have it checked there before the shims go in."
        )
    if not sheet.ageing:
        why = f": {sheet.aim.why}" if sheet.aim.why else ""
        found.append(
            f"The ageing that the case allows for, {100.0 * sheet.window.relaxation_share:.3g} % "
            f"(limits.relaxation_share), is not covered{why}. That takes a mean of at least {_least(sheet.aim.aged)}, "
            f"and this sheet reaches {mm(sheet.planned.mean, '.3f')}: the mean may fall below the window with time."
        )
    return found


def _less_round(sheet: ShimSheet) -> list[str]:
    """Where the rim is less round, or further off the axis, with the shims than without."""
    pairs = (
        ("the largest radius at a pole off the mean", sheet.present.largest, sheet.planned.largest),
        ("the offset of the rim's centre at the poles", sheet.present.offset, sheet.planned.offset),
    )
    return [
        f"WORSE THAN NOW: {what} grows from {mm(now, '.3f')} to {mm(then, '.3f')} with these shims. "
        + (
            "The goal 'round' seeks the least root mean square over all poles, not this."
            if sheet.goal == ROUND
            else "The roundest choice that was found for this stock and window has no less."
        )
        for what, now, then in pairs
        if then > now + _WORSE
    ]


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
    found += _of_window(sheet) + _less_round(sheet)
    for name, speed in sheet.promise.first_lift_off.items():
        if math.isnan(speed):
            found.append(f"No first lift-off can be promised for '{name}': the float speed there has no interval.")
        elif speed <= float(case.rotor.speeds.rated):
            found.append(
                f"In '{name}' a key may lift off below rated speed even with these shims: the fit is not even enough, "
                "or not known well enough, to rule it out."
            )
    return tuple(found)
