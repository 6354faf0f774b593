"""A course of speed key by key as text and table: run-up and run-down, with friction known or as a range."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from rimmodel.behaviour.keys import history
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.units import RPM, in_mm, in_rpm, mm, rpm
from rimmodel.verdict.output.keys import require_keys

SHARES = (0.0, 0.5, 1.0)
"""Of the largest friction, where it is a range: its ends and the middle."""

SINGLE_KEY_SEATS, ANOTHER_STATE = "first key seats again", "rim goes to another state"
OFF_CENTRE = {"up": (SINGLE_KEY_SEATS,), "down": (SINGLE_KEY_SEATS, ANOTHER_STATE)}
"""Speeds of a rim that is off centre: where all keys are alike, each is arbitrary."""

MARKS: dict[str, dict[str, Callable[[history.Branch], float | None]]] = {
    "up": {
        "first key lifts off": lambda branch: branch.first("lift-off"),
        SINGLE_KEY_SEATS: lambda branch: branch.first("re-seating"),
        ANOTHER_STATE: lambda branch: next(iter(branch.lost), None),
    },
    "down": {
        "rim starts to move in against friction": lambda branch: branch.first("slips"),
        SINGLE_KEY_SEATS: lambda branch: branch.first("re-seating"),
        ANOTHER_STATE: lambda branch: next(iter(branch.lost), None),
        "all keys seated from here down": lambda branch: branch.all_seated,
    },
}
"""Speeds that are named of each branch."""


@dataclass(frozen=True)
class HistoryBand:
    """The same course with each friction looked at, the smallest first."""

    histories: tuple[history.KeyHistory, ...]

    def mark(self, number: int, find: Callable[[history.Branch], float | None]) -> tuple[list[float], bool]:
        """Least and largest speed (rad/s) over all frictions, empty where there is none; and whether all have it."""
        each = [find(one.branches[number]) for one in self.histories if number < len(one.branches)]
        known = [speed for speed in each if speed is not None]
        return ([min(known), max(known)] if known else []), len(known) == len(self.histories)

    @property
    def arbitrary(self) -> bool:
        """Whether single keys seat again by round-off alone: all are alike, and the rim left the centre."""
        return any(one.arbitrary for one in self.histories)

    def named(self, number: int) -> dict[str, tuple[list[float], bool]]:
        """The speeds (rad/s) that are named of a branch, as `mark` finds them; without those that are arbitrary."""
        direction = self.histories[0].branches[number].direction
        chance = OFF_CENTRE[direction] if self.arbitrary else ()
        return {
            name: ([], False) if name in chance else self.mark(number, find) for name, find in MARKS[direction].items()
        }

    def lost(self, number: int) -> tuple[float, ...]:
        """Speeds (rad/s) at which a state ends on a branch with the smallest friction, those that are not arbitrary."""
        branch = self.histories[0].branches[number]
        return branch.lost if not self.arbitrary else branch.lost[:1] if branch.direction == "up" else ()

    def two_states(self) -> list[tuple[float, float]]:
        """Ranges of speed (rad/s) in which both branches differ, of the friction where they reach farthest.

        None where single keys do as round-off has it.
        """
        if self.arbitrary:
            return []
        return max((one.two_states() for one in self.histories), key=lambda found: sum(b - a for a, b in found))


def history_of(
    case: Case, condition: Condition, course: str | None = None, friction: float | None = None
) -> HistoryBand:
    """Follow a case through a course of speed.

    Parameters
    ----------
    course : str, optional
        Speeds in rpm between commas; to the highest of the case and back by default.
    friction : float, m, optional
        The largest apparent interference from friction; without it that of the case.

    Raises
    ------
    ValueError
        As `key_history`; a course that cannot be read.
    """
    require_keys(case)
    speeds = None if course is None else _course(course)
    if friction is None:
        sizes = [float(case.rotor.fit.friction_interference)]
    elif not 0.0 < friction < np.inf:
        raise ValueError(f"--friction is {in_mm(friction):g}; it must be above zero, in mm")
    elif friction >= (fitted := float(np.mean(np.asarray(case.rotor.fit.interference)))):
        raise ValueError(
            f"--friction is {in_mm(friction):g} mm, and the interference of the fit {mm(fitted)}: friction that holds "
            "the whole fit is no range to look at; give the apparent interference from friction, well below the fit"
        )
    else:
        sizes = [share * friction for share in SHARES]
    return HistoryBand(tuple(history.key_history(case.rotor, condition, speeds, size) for size in sizes))


def _course(text: str) -> list[float]:
    try:
        speeds = [float(part) for part in text.split(",")]
    except ValueError:
        raise ValueError(f"--course is {text!r}; give speeds in rpm between commas, such as 0,200,0") from None
    if len(speeds) < 2 or not all(0.0 <= one < np.inf for one in speeds):
        raise ValueError(f"--course is {text!r}; give two speeds at least, none below zero, such as 0,200,0")
    if any(one == after for one, after in pairwise(speeds)):
        raise ValueError(f"--course is {text!r}; each speed must differ from the speed before it")
    return [one * RPM for one in speeds]


def table(band: HistoryBand, play: float = 0.0) -> dict[str, Any]:
    """The course for JSON: speeds in rpm, keys from 1; events are those of the smallest friction.

    Parameters
    ----------
    play : float, m
        As in `history_notes`.
    """
    first = band.histories[0]
    return {
        "arbitrary": band.arbitrary,
        "friction_interference_mm": [in_mm(one.friction_interference) for one in band.histories],
        "branches": [
            {
                "direction": branch.direction,
                "from_rpm": in_rpm(branch.start),
                "to_rpm": in_rpm(branch.stop),
                "landmarks": {
                    f"{name.replace(' ', '_')}_rpm": [in_rpm(speed) for speed in speeds] or None
                    for name, (speeds, _) in band.named(number).items()
                },
                "events": [
                    {"speed_rpm": in_rpm(event.speed), "key": event.key, "kind": event.kind}
                    for event in band.histories[0].sure_events(number)
                ],
                "lost_rpm": [in_rpm(speed) for speed in band.lost(number)],
                "ends": branch.ends,
            }
            for number, branch in enumerate(first.branches)
        ],
        "two_states_rpm": [[in_rpm(low), in_rpm(high)] for low, high in band.two_states()],
        "notes": history_notes(band, play),
    }


def text(band: HistoryBand, play: float = 0.0) -> str:
    """Each branch with its speeds and events for a terminal.

    Parameters
    ----------
    play : float, m
        As in `history_notes`.
    """
    lines: list[str] = []
    for number, branch in enumerate(band.histories[0].branches):
        lines += [f"run-{branch.direction}, {rpm(branch.start, 'g')} to {rpm(branch.stop, 'g')}"]
        for name, (speeds, all_have) in band.named(number).items():
            chance = band.arbitrary and name in OFF_CENTRE[branch.direction]
            lines.append(f"    {name:42}{'arbitrary: all keys are alike' if chance else _band_text(speeds, all_have)}")
        events = band.histories[0].sure_events(number)
        nothing = "single keys: arbitrary, not listed" if band.arbitrary else "no key changes"
        lines += [f"        {rpm(event.speed, '8.2f')}  key {event.key:2d}  {event.kind}" for event in events]
        lines += [] if events else [f"        {nothing}"]
        lines += [f"    {branch.ends}"] if branch.ends else []
        lines.append("")
    return "\n".join([*lines, *(f"- {note}" for note in history_notes(band, play))])


def _band_text(speeds: Sequence[float], all_have: bool) -> str:
    if not speeds:
        return "does not happen"
    low, high = (rpm(speed) for speed in speeds)
    text = low if low == high else f"{low.removesuffix(' rpm')} to {high}"
    return text if all_have else f"{text}, with a part of the range of friction only"


def history_notes(band: HistoryBand, play: float = 0.0) -> list[str]:
    """What a reader of both branches has to know, in plain words.

    Parameters
    ----------
    play : float, m
        Tangential clearance of the guides, 0 where there are none.
    """
    sizes = [one.friction_interference for one in band.histories]
    if len(sizes) > 1:
        friction = (
            f"friction is not known: followed with {', '.join(mm(size, 'g') for size in sizes)} of apparent "
            "interference, and with nothing between these; a range of speed is that of these three; events are those "
            "without friction"
        )
    elif sizes[0]:
        friction = f"friction at the keys as the case states it: {mm(sizes[0], 'g')} of apparent interference"
    else:
        friction = "without friction: fit.friction_interference is 0 (--friction MM looks at a range)"
    notes = [friction]
    if band.arbitrary:
        notes.append(
            "all keys are alike: once the rim is off centre, which key lifts off or seats again, and at which speed, "
            "is arbitrary; state key_interference. The first lift-off and the speed of all keys seated hold"
        )
    ranges = band.two_states()
    if ranges:
        spans = ", ".join(f"{rpm(low).removesuffix(' rpm')} to {rpm(high)}" for low, high in ranges)
        notes.append(
            f"from {spans} the rim is in one state in run-up and in another in run-down: what a reading shows there "
            "depends on where the speed came from"
        )
    elif len(band.histories[0].branches) > 1 and not band.arbitrary:
        notes.append("run-up and run-down pass through the same states: the rim takes up its keys where it left them")
    if any(branch.lost for one in band.histories for branch in one.branches):
        notes.append("where the rim goes to another state it does so at once, and the gap with it")
    far = max(branch.off_centre for one in band.histories for branch in one.branches)
    if 0.0 < play < far:
        notes.append(
            f"the rim moves {mm(far, '.2g')} off centre, more than the tangential clearance of {mm(play, 'g')}: its "
            "guides stop it before, which this course does not count; where it starts to leave the centre is the same"
        )
    return notes
