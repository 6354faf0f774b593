"""What `check` says other commands leave out is what they refuse, and the rest runs."""

import pytest

from rimmodel.planning.proving_run import run_plan
from rimmodel.rotor.case.case import example_case, parse_case
from rimmodel.verdict.left_out import left_out
from rimmodel.verdict.output.keys import run_keys
from tests.bad_inputs.case_slips import TEXT
from tests.bad_inputs.legal_cases import LARGE, SMALL

KEYLESS = TEXT.replace('key_width = "260 mm"\n', "", 1)
SHUT = TEXT.replace('cold = "16 mm"\nminimum_allowed = "9 mm"', 'cold = "1 mm"\nminimum_allowed = "0.5 mm"', 1).replace(
    "0.95 T", "1.6 T", 1
)


def runs(command):
    try:
        command()
    except ValueError:
        return False
    return True


@pytest.mark.parametrize(
    "text", [TEXT, KEYLESS, SHUT, SMALL, LARGE], ids=["built-in", "no width", "shut", "small", "large"]
)
def test_a_command_is_refused_exactly_where_check_says_so(text):
    case = parse_case(text.encode(), "case.toml")
    said = left_out(case)
    for name, condition in case.conditions.items():
        refused = any(line.startswith(("'keys' needs", f"'keys' in condition '{name}'")) for line in said)
        assert runs(lambda condition=condition: run_keys(case, condition)) == (not refused)
        planless = any(line.startswith(("'plan' needs", f"'plan' in condition '{name}'")) for line in said)
        assert runs(lambda name=name: run_plan(case, name)) == (not planless)


def test_the_built_in_case_lacks_nothing():
    assert left_out(example_case()) == []
