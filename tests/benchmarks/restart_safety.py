"""How often a restart is called safe that is not: ``python -m tests.benchmarks.restart_safety [--machines N]``.

Invented machines, each with ranges of heat exchange around a truth of its own that lies anywhere within them or in a
corner. The truth is followed by finite volumes and small steps of the second order (BDF2), without the elements,
polynomials and modes of the program; restarts are tried on it after every time at rest. Counted is how often the true
machine floats in a restart that the program calls safe, and how much later than in truth the program allows one. The
fit is known without doubt, so that nothing but the heat exchange stands between the two.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import lu_factor, lu_solve

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of, interference_for_float_speed
from rimmodel.behaviour.heat.draws import spread
from rimmodel.behaviour.heat.run import run_history
from rimmodel.rotor import ArmSpider, Condition, DiscSpider
from rimmodel.rotor.history import History, Segment

HOUR = 3600.0
CELLS = 40
STEP = 30.0
"""Seconds of a step of the truth."""
ROUNDING = 1e-3
"""Share of the float speed by which truth and program may differ: both are grids."""

CASE = rm.example_case()


@dataclass(frozen=True)
class Volumes:
    """A machine as finite volumes; conduction (node, node) in W/K, capacity in J/K, surfaces in m2."""

    capacity: np.ndarray
    conduction: np.ndarray
    bore: np.ndarray
    outer: np.ndarray
    spider: np.ndarray
    means: np.ndarray
    outside: int
    tip: int
    bore_node: int


def radial_line(start, end, section, first, last, heat, conductivity):
    """Cells between two ends that are bodies of their own; heat capacities, conduction, radii and volumes of cells."""
    edges = np.linspace(start, end, CELLS + 1)
    middle = (edges[:-1] + edges[1:]) / 2
    size = (end - start) / CELLS
    volume = section(middle) * size
    capacity = np.concatenate([[first], volume * heat, [last]])
    between = conductivity * np.concatenate(
        [[section(edges[0]) / (size / 2)], section(edges[1:-1]) / size, [section(edges[-1]) / (size / 2)]]
    )
    matrix = np.zeros((CELLS + 2, CELLS + 2))
    for row, conductance in enumerate(between):
        matrix[row : row + 2, row : row + 2] += conductance * np.array([[1, -1], [-1, 1]])
    return capacity, matrix, middle, volume


def volumes(rotor, thermal, contact):
    """The machine with one value of the contact of rim and spider."""
    rim, poles, spider = rotor.rim, rotor.poles, rotor.spider
    a, bottom, top = (float(v) for v in (rim.inner_radius, rim.slot_bottom_radius, rim.outer_radius))
    length, stack, heat = float(rim.length), float(rim.stacking_factor), float(thermal.specific_heat)
    steel, conductivity = float(rim.material.density) * heat, float(thermal.thermal_conductivity)
    at_outside = float(poles.count) * float(poles.mass) * float(thermal.pole_specific_heat)
    at_outside += steel * stack * np.pi * (top**2 - bottom**2) * length * (1 - float(rim.slot_share))
    parts = [radial_line(a, bottom, lambda r: 2 * np.pi * r * length * stack, 0.0, at_outside, steel, conductivity)]
    own = float(spider.material.density) * heat
    if isinstance(spider, ArmSpider):
        hub, count, area = float(spider.hub_radius), float(spider.count), float(spider.arm_area)
        tip = count * float(spider.tip_mass) * heat
        parts.append(
            radial_line(
                hub, a, lambda r: count * area + 0 * r, float(thermal.hub_mass or 0.0) * heat, tip, own, conductivity
            )
        )
        face = count * float(thermal.arm_perimeter) * (a - hub) / CELLS * np.ones(CELLS)
        mean = np.concatenate([[hub], np.full(CELLS, (a - hub) / CELLS), [0.0]]) / a
    else:
        bore, thick = float(spider.inner_radius), float(spider.thickness)
        parts.append(radial_line(bore, a, lambda r: 2 * np.pi * r * thick, 0.0, 0.0, own, conductivity))
        face = 2 * parts[1][3] / thick
        mean = np.concatenate([[0.0], parts[1][3] / parts[1][3].sum(), [0.0]])
    size = CELLS + 2
    matrix = np.zeros((2 * size, 2 * size))
    matrix[:size, :size], matrix[size:, size:] = parts[0][1], parts[1][1]
    tip_node = 2 * size - 1
    for i, j, sign in ((0, 0, 1), (tip_node, tip_node, 1), (0, tip_node, -1), (tip_node, 0, -1)):
        matrix[i, j] += sign * contact
    nothing = np.zeros(2 * size)
    bore_area, outer_area, faces, rim_mean, spider_mean = (nothing.copy() for _ in range(5))
    bore_area[0] = 2 * np.pi * a * length
    outer_area[size - 1] = 2 * np.pi * top * length + float(poles.count) * float(thermal.pole_surface)
    faces[size + 1 : -1] = face
    rim_mean[1 : size - 1] = parts[0][3] / parts[0][3].sum()
    spider_mean[size:] = mean
    capacity = np.concatenate([parts[0][0], parts[1][0]])
    return Volumes(
        capacity, matrix, bore_area, outer_area, faces, np.stack([rim_mean, spider_mean]), size - 1, tip_node, 0
    )


class Truth:
    """A machine whose heat exchange is known."""

    def __init__(self, case, value):
        self.case, self.value, self.thermal = case, value, case.thermal
        self.steady = case.conditions[case.thermal.steady_state]
        self.body = volumes(case.rotor, case.thermal, value["contact_conductance"])
        self.rated = float(case.rotor.speeds.rated)
        self._losses()

    def films(self, speed):
        """Conductance to the air at a speed, (surface, node)."""
        value, body = self.value, self.body
        share = (speed / self.rated) ** value["speed_exponent"]
        still = value["still_heat_transfer"]
        found = (max(still, value[f"{name}_heat_transfer"] * share) for name in ("rim_bore", "rim_outer", "spider"))
        return np.stack([h * surface for h, surface in zip(found, (body.bore, body.outer, body.spider), strict=True)])

    def _losses(self):
        """Loss of the rim and rise of the air at the spider that make the steady condition."""
        air, films = float(self.thermal.air), self.films(self.rated)
        matrix = self.body.conduction + np.diag(films.sum(axis=0))
        rim_air = air + self.value["air_rise"]
        rest = np.linalg.solve(matrix, films[0] * rim_air + films[1] * rim_air + films[2] * air)
        put = np.zeros(len(rest))
        put[self.body.outside] = 1.0
        answers = np.linalg.solve(matrix, np.stack([put, films[2]], axis=1))
        wanted = np.array([float(self.steady.rim_temperature), float(self.steady.spider_temperature)])
        self.loss, self.rise = np.linalg.solve(self.body.means @ answers, wanted - self.body.means @ rest)
        self.possible = self.loss >= 0 and self.rise >= 0
        hottest = (rest + answers @ [self.loss, self.rise]).max()
        self.possible = self.possible and air + self.rise <= hottest

    def follow(self, state, stator, speeds, step, *, air, level, braking=0.0):
        """States after each step at the speeds in its middle: (step + 1, node, ...) and the stator core likewise."""
        body, value = self.body, self.value
        put = np.zeros(len(body.capacity))
        put[body.outside] = self.loss * level
        put[body.outside if self.thermal.brake_ring == "rim" else body.tip] += braking * value["brake_share"]
        rim_air, spider_air = air + value["air_rise"] * level, air + self.rise * level
        course, cores = [state], [stator]
        known, lu = None, None
        film = value["rim_outer_heat_transfer"]
        above = float(self.steady.stator_temperature) - float(self.thermal.air)
        for number, speed in enumerate(speeds):
            films = self.films(speed)
            drive = put + (films[0] + films[1]) * rim_air + films[2] * spider_air
            drive = drive.reshape(-1, *(1,) * (state.ndim - 1))
            second = number > 0 and len(course) > 1
            stored = body.capacity / step
            if known != (speed, second):
                lead = 1.5 if second else 1.0
                lu = lu_factor(np.diag(lead * stored) + body.conduction + np.diag(films.sum(axis=0)))
                known = (speed, second)
            weight = stored.reshape(drive.shape)
            held = weight * (2 * course[-1] - 0.5 * course[-2]) if second else weight * course[-1]
            course.append(lu_solve(lu, held + drive))
            blown = max(value["still_heat_transfer"], film * (speed / self.rated) ** value["speed_exponent"])
            rate = blown / film / value["stator_time_constant"]
            # the core is one body: closed within the step
            target = air + above * level / (rate * value["stator_time_constant"])
            cores.append(target + (cores[-1] - target) * np.exp(-rate * step))
        return np.stack(course), np.stack(cores)

    def lift_off(self, states, cores, *, excited):
        """Float speed of states (..., node, case) with cores (..., case)."""
        means = np.einsum("mn,tn...->mt...", self.body.means, states)
        flux = float(np.asarray(self.steady.flux_density)) if excited else 0.0
        condition = Condition(means[0], means[1], None, cores, flux, self.steady.excitation)
        rotor = self.case.rotor
        return np.asarray(float_speed_of(coefficients(rotor, condition), np.asarray(rotor.speeds.highest)))


def true_restarts(case, value, rests):
    """Lowest true float speed of a restart after times at rest (s), rad/s; None where no such machine can be."""
    truth = Truth(case, value)
    if not truth.possible:
        return None
    [history] = case.histories
    air0 = float(case.thermal.air)
    first = history.segments[0]
    start = case.conditions[history.start] if history.start else None
    begin = air0 if first.air is None else float(first.air)
    state = np.full(len(truth.body.capacity), begin)
    core = np.array(begin)
    if start is not None:
        state[: CELLS + 2], state[CELLS + 2 :] = float(start.rim_temperature), float(start.spider_temperature)
        core = np.array(float(start.stator_temperature))
    inertia = float(case.load_rejection.inertia)
    before = 0.0
    for segment in history.segments:
        after = before if segment.speed is None else float(segment.speed)
        air = air0 if segment.air is None else float(segment.air)
        if segment.kind == "rest":
            break
        count = int(np.ceil(float(segment.duration) / STEP))
        step = float(segment.duration) / count
        part = (np.arange(count) + 0.5) / count
        speeds = before + (after - before) * part if segment.kind != "load" else np.full(count, after)
        share = value["no_load_loss_share"]
        level = share + (1 - share) * float(segment.load) ** 2 if segment.excited else 0.0
        if segment.kind == "brake":
            for speed in speeds:
                half = (before - after) / count / 2
                energy = inertia / 2 * ((speed + half) ** 2 - (speed - half) ** 2)
                states, cores = truth.follow(state, core, [speed], step, air=air, level=level, braking=energy / step)
                state, core = states[-1], cores[-1]
        else:
            states, cores = truth.follow(state, core, speeds, step, air=air, level=level)
            state, core = states[-1], cores[-1]
        before = after
    count = int(np.ceil(rests[-1] / (4 * STEP)))
    step = rests[-1] / count
    states, cores = truth.follow(state, core, np.zeros(count), step, air=air, level=0.0)
    at = np.round(rests / step).astype(int)
    state, core = states[at].T, cores[at]
    lowest = truth.lift_off(state[np.newaxis], core[np.newaxis], excited=False)[0]
    run_up = int(300.0 / STEP)
    speeds = truth.rated * (np.arange(run_up) + 0.5) / run_up
    states, cores = truth.follow(state, core, speeds, STEP, air=air0, level=0.0)
    lowest = np.minimum(lowest, truth.lift_off(states, cores, excited=False).min(axis=0))
    for hours, step in ((2.0, STEP), (28.0, 8 * STEP), (170.0, 40 * STEP)):
        steps = int(hours * HOUR / step)
        states, cores = truth.follow(states[-1], cores[-1], np.full(steps, truth.rated), step, air=air0, level=1.0)
        lowest = np.minimum(lowest, truth.lift_off(states, cores, excited=True).min(axis=0))
    return lowest


def invented_case(random):
    """A machine with its history and ranges, all invented around those of the built-in case."""
    rotor, thermal = CASE.rotor, CASE.thermal
    disc = random.uniform() < 0.4
    if disc:
        spider = DiscSpider(rotor.spider.material, random.uniform(0.4, 1.0), random.uniform(0.15, 0.5))
    else:
        spider = replace(rotor.spider, arm_area=float(rotor.spider.arm_area) * random.uniform(0.5, 1.8))
    poles = replace(rotor.poles, mass=float(rotor.poles.mass) * random.uniform(0.7, 1.3))
    rotor = replace(rotor, spider=spider, poles=poles)
    hot = CASE.conditions["hot"]
    rim = 273.15 + random.uniform(48.0, 75.0)
    spider_at = rim - random.uniform(2.0, 14.0)
    air = spider_at - random.uniform(3.0, 15.0)
    hot = replace(
        hot, rim_temperature=rim, spider_temperature=spider_at, stator_temperature=rim + random.uniform(2.0, 15.0)
    )
    ranges = {}
    for name, pair in thermal.spans.items():
        middle = float(np.sqrt(pair[0] * pair[1])) * np.exp(random.normal(0.0, 0.15))
        if name == "air_rise":
            pair = (random.uniform(0.0, 1.0), random.uniform(1.0, min(8.0, 0.6 * (rim - air))))
        elif name in ("speed_exponent", "no_load_loss_share", "brake_share"):
            continue
        else:
            width = random.uniform(1.05, 2.0)
            pair = (middle / width, middle * width)
        ranges[name] = pair
    thermal = replace(
        thermal, air=air, brake_ring=str(random.choice(["rim", "spider"])), hub_mass=random.uniform(3e3, 4e4),
        arm_perimeter=random.uniform(2.0, 8.0), **ranges,
    )  # fmt: skip
    rated = float(rotor.speeds.rated)
    wanted = rated * random.uniform(1.12, 1.5)
    fit = replace(rotor.fit, settlement=0.0)
    rotor = replace(rotor, fit=fit)
    rotor = rotor.with_interference(interference_for_float_speed(rotor, hot, np.asarray(wanted)))
    day = (
        Segment("start", 300.0, rated),
        Segment("load", random.uniform(0.5, 30.0) * HOUR, rated, random.uniform(0.5, 1.0), True),
        Segment(str(random.choice(["coast", "brake"])), random.uniform(240.0, 1500.0), 0.0),
        Segment("rest", 2 * HOUR, 0.0, air=air - random.uniform(0.0, 25.0)),
    )
    history = History("day", day, str(random.choice(["cold", "hot"])), random.uniform(1.0, 1.1))
    return replace(CASE, rotor=rotor, thermal=thermal, conditions={**CASE.conditions, "hot": hot}, histories=(history,))


def truths(case, random):
    """Places of a truth within the ranges: anywhere, and in two corners."""
    count = len(case.thermal.spans)
    corners = [random.integers(0, 2, count).astype(float) for _ in range(2)]
    return [random.uniform(size=count), *corners]


def looked_at():
    """Times at rest at which the truth is tried, s."""
    minutes, quarters = np.arange(0, 120, 5) * 60.0, np.arange(2.0, 12.0, 0.25) * HOUR
    return np.concatenate([minutes, quarters, np.arange(12.0, 120.5, 1.0) * HOUR])


def called_safe(run, rests):
    """At which times at rest the program calls a restart safe."""
    until, again = run.restart.windows()
    safe = np.zeros(len(rests), bool) if np.isnan(until) else rests <= until
    return safe if np.isnan(again) else safe | (rests >= again)


def of_machine(seed, number, rests):
    """For each truth of a machine: by how much it falls short where called safe, and how late; None if impossible."""
    random = np.random.default_rng([seed, number])
    case = invented_case(random)
    history = case.histories[0]
    try:
        run = run_history(case, history, 400)
    except ValueError:  # a steady condition that no heat exchange of these ranges makes
        return None
    safe, again = called_safe(run, rests), run.restart.windows()[1]
    found = []
    for place in truths(case, random):
        value = {name: float(column[0]) for name, column in spread(case.thermal.spans, place[np.newaxis]).items()}
        lowest = true_restarts(case, value, rests)
        if lowest is None:
            continue
        ratio = lowest / (history.float_speed_ratio * float(case.rotor.speeds.rated))
        bad = np.flatnonzero(ratio < 1.0)
        known = bad.size and bad[-1] < len(rests) - 1 and np.isfinite(again)
        late = (again - rests[bad[-1] + 1]) / HOUR if known else np.nan
        found.append((bool(safe.any()), float(np.max(1.0 - ratio[safe], initial=-1.0)), late))
    return found


def main() -> None:
    """Count and print."""
    words = argparse.ArgumentParser()
    words.add_argument("--machines", type=int, default=100)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    rests, began = looked_at(), time.perf_counter()
    machines = [of_machine(asked.seed, number, rests) for number in range(asked.machines)]
    known = [rows for rows in machines if rows]
    rows = np.array([row for rows in known for row in rows])
    called, short, late = rows.T
    wrong = short > ROUNDING
    print(
        f"{len(known)} machines, {len(rows)} truths, {called.sum():.0f} with a restart called safe: {wrong.sum()} of "
        f"these float in one (worst {short.max():+.2%} of what is asked)"
    )
    for number, found in enumerate(machines):
        for _, missing, _ in found or []:
            if missing > ROUNDING:
                print(f"    machine {number}: {missing:.2%} short")
    lates = late[np.isfinite(late)]
    if lates.size:
        print(
            f"allowed later than in truth by (h): {np.percentile(lates, [0, 10, 50, 90, 100]).round(2)}, {len(lates)}"
        )
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
