"""The heating of a rim as figures, and as all the files that are written of it."""

from __future__ import annotations

import json

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.planning.heating import REACHED, HeatingPlan
from rimmodel.plotting import fitting_chart, heating_chart
from rimmodel.plotting.bands import Band
from rimmodel.units import ZERO_CELSIUS, in_mm, in_print
from rimmodel.verdict.output import heating
from rimmodel.verdict.output.drawer import Drawing, drawing, drawn
from rimmodel.verdict.output.files import csv_text
from rimmodel.verdict.output.heating_rows import counted, middle_course

FILES = ("heating.txt", "heating.json", "schedule.csv", "keys.csv", "heating.svg", "fitting.svg")
"""Of the files; keys and their fitting only where the plan is reached."""


def files(plan: HeatingPlan) -> dict[str, str]:
    """Text, JSON, tables for the site and figures, by the names of their files."""
    table = json.dumps(heating.table(plan), indent=2, ensure_ascii=False, allow_nan=False)
    texts = {"heating.txt": heating.text(plan) + "\n", "heating.json": table + "\n", "schedule.csv": schedule_csv(plan)}
    if plan.verdict == REACHED:  # a sheet of keys goes to the site by itself, without the verdict
        texts["keys.csv"] = keys_csv(plan)
    figures = {f"{name}.svg": drawn(chosen) for name, chosen in heating_drawings(plan).items()}
    return texts | figures


def heating_drawings(plan: HeatingPlan) -> dict[str, Drawing]:
    """Drawings by name: the heating as far as it comes and, where the growth is reached, the fitting of the keys."""
    rows = middle_course(plan, float(plan.course.time[1]))
    temperatures = [Band("rim", *rows.rim), Band("spider", *rows.spider)]
    spider = float(rows.spider[0, -1])
    to_reach = in_print(plan.rim_temperature(spider + ZERO_CELSIUS), "temperature") - spider
    highest = in_print(float(plan.case.limits.shrinking_rim_temperature), "temperature")
    heated = drawing(
        heating_chart.draw, rows.time, temperatures, Band("rim over spider", *rows.difference),
        Band("heater power, expected", *rows.power), to_reach, highest,
    )  # fmt: skip
    return {"heating": heated, "fitting": _fitting(plan)} if plan.verdict == REACHED else {"heating": heated}


def _fitting(plan: HeatingPlan) -> Drawing:
    work, model, chosen = plan.work, plan.model, counted(plan)
    time = np.linspace(0.0, 2.0 * float(work.end.max()), 121)
    states = model.cooled(plan.course.at_off, time)
    over = model.growth(states) - float(work.interference.max())
    lowest = over[chosen].min(axis=0) - work.allowed_for
    clearance = Band("over the tightest key", in_mm(over[0]), in_mm(lowest), in_mm(over[chosen].max(axis=0)))

    def band(name: str, values: Floats) -> Band:
        shown = in_print(values, "temperature")
        return Band(name, shown[0], shown[chosen].min(axis=0), shown[chosen].max(axis=0))

    own = model.growth(model.cooled(plan.course.at_off, work.end))[chosen].min(axis=0)
    return drawing(
        fitting_chart.draw, time / 60.0, clearance, work.end / 60.0, in_mm(own - work.interference - work.allowed_for),
        float(in_mm(work.wanted)),
        [band("rim", model.mean(states)), band("spider", model.spider(states))],
    )  # fmt: skip


def schedule_csv(plan: HeatingPlan) -> str:
    """The schedule, every half hour as expected, with least and most of all possible beside it."""
    rows = middle_course(plan)
    heads = ["time [h]", "phase"]
    for name in ("heater power [kW]", "rim [degC]", "spider [degC]", "rim over spider [K]", "spread through depth [K]"):
        heads += [name, f"least {name}", f"most {name}"]
    heads += ["growth over spider [mm]", "power set by", "verdict on the heating"]
    columns = (rows.power, rows.rim, rows.spider, rows.difference, rows.spread)
    body = [
        [
            round(float(rows.time[row]), 3),
            rows.phase[row],
            *(round(float(values[kind, row]), 2) for values in columns for kind in range(3)),
            round(float(rows.growth[row]), 3),
            rows.governs[row],
            plan.verdict,
        ]
        for row in range(len(rows.time))
    ]
    return csv_text(heads, body)


def keys_csv(plan: HeatingPlan) -> str:
    """The keys in their order, with the time of each and what must be there, and room for what is measured."""
    heads = [
        "place", "key", "begin after power off [min]", "in by [min]", "interference [mm]", "clearance expected [mm]",
        "least clearance [mm]", "clearance wanted [mm]", "measured top [mm]", "measured bottom [mm]", "time in",
    ]  # fmt: skip
    body = [
        [
            place,
            row.key,
            round(row.begin / 60, 1),
            round(row.end / 60, 1),
            round(float(in_mm(row.interference)), 3),
            *("" if np.isnan(value) else round(float(in_mm(value)), 3) for value in (row.expected, row.least)),
            round(float(in_mm(row.wanted)), 3),
            "",
            "",
            "",
        ]
        for place, row in enumerate(plan.keys, 1)
    ]
    return csv_text(heads, body)
