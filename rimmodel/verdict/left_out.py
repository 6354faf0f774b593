"""What the other commands cannot do with a case that is complete, and which key would let them."""

from __future__ import annotations

from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.planning.proving_run import run_plan
from rimmodel.rotor.case.case import Case
from rimmodel.verdict.output.keys import keys_are_known


def left_out(case: Case) -> list[str]:
    """One line for each command that this case does not serve, with what it lacks; `check` prints them.

    Keys are set up and a run is planned in every condition, as 'keys' and 'plan' do, so that what stops them is known.
    """
    lines = []
    if not keys_are_known(case):
        lines.append("'keys' needs fit.key_width and the number of keys (fit.key_count, or spider arms)")
    else:
        for name, condition in case.conditions.items():
            try:
                keyed_rotor(case.rotor, condition)
            except ValueError as error:
                lines.append(f"'keys' in condition '{name}': {error}")
    if case.rotor.air_gap.minimum_allowed is None:
        lines.append("'plan' needs air_gap.minimum_allowed, the least mean gap that is allowed")
    else:
        lines += _no_plan(case)
    if not case.tolerances:
        lines.append("'study' needs [tolerances] or fit.interference_tolerance")
    return lines


def _no_plan(case: Case) -> list[str]:
    lines = []
    for name in case.conditions:
        try:
            run_plan(case, name)
        except ValueError as error:
            lines.append(f"'plan' in condition '{name}': {error}")
    return lines
