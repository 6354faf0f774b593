"""The words of a deck: comments that say what is drawn, in which units, and what a step is."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from rimmodel.second_opinion.bricks import THICKNESS
from rimmodel.second_opinion.drawing import Drawing, Loads
from rimmodel.units import in_rpm, mm

WIDTH = 96


def comment(*paragraphs: str) -> list[str]:
    """Paragraphs as comments, each line within 100 characters."""
    lines: list[str] = []
    for paragraph in paragraphs:
        lines += [f"** {line}".rstrip() for line in textwrap.wrap(plain(paragraph), WIDTH) or [""]]
    return lines


def plain(text: str) -> str:
    """A text in letters that every program reads, on one line."""
    return " ".join(text.encode("ascii", "replace").decode().split())


def heading(title: str, subject: str, drawing: Drawing, particulars: Iterable[str]) -> list[str]:
    """The head of a deck: what it is of, its units, how forces of the slice become those of the rim."""
    rim, rotor = drawing.rotor.rim, drawing.rotor
    fit = rotor.fit
    return [
        *comment(
            f"{title}",
            subject,
            "UNITS: metre, kilogram, second, newton, pascal, kelvin, rad/s. The program itself knows none.",
            f"ONE SLICE of the rim, {mm(THICKNESS, 'g')} of its length of {drawing.length:g} m, free to change its "
            f"thickness (plane stress). Forces of the whole rim are those of the slice times "
            f"{drawing.length / THICKNESS:.6g}. Steel that does not fill the length (stack, disc, arms) is drawn over "
            "all of it with as much less modulus and density.",
            f"RIM: bore {drawing.bore:g} m, outside {drawing.outside:g} m, stacking factor "
            f"{float(rim.stacking_factor):g}, hoop over radial modulus {float(rim.hoop_stiffness_factor):g}.",
            f"INTERFERENCE: {drawing.interference:.9g} m radial in the mean, as the case states it (fit.interference "
            f"{float(fit.interference):.9g}, settlement {float(fit.settlement):g}, stack growth "
            f"{float(fit.stack_growth):g}), not as a recording shows it; the spider is drawn larger by it.",
            f"TEMPERATURE: rim {drawing.rim_rise:.6g} K, spider {drawing.spider_rise:.6g} K above that of assembly.",
            *particulars,
            "To read the results back: rimmodel deck CASE --read FOLDER (with the same --condition).",
        ),
    ]


def step_comment(name: str, loads: Loads) -> list[str]:
    """The comment above a step."""
    beside = []
    if loads.tip:
        beside.append(f"tips of arms {loads.tip:.6g} Pa outward")
    if loads.foot:
        beside.append(f"feet of the spider moved {loads.foot:.6g} m outward")
    return comment(
        f"STATE {name}: {loads.speed:.9g} rad/s, {in_rpm(loads.speed):.6g} rpm, speed squared {loads.speed**2:.9g} "
        f"1/s2; poles and field pull the rim outside with {loads.outside:.9g} Pa{''.join(f'; {b}' for b in beside)}"
    )
