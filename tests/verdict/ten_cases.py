"""Ten invented cases, with and without records of an invented run, and their reviews; each is reviewed once."""

import re
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.case.case import EXAMPLES, read_case
from rimmodel.units import MILLIMETRE, RPM
from rimmodel.verdict import review
from tests.once import once

BUILT_IN = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
WHOLE = (20, 50, 80, 105, 125, 139, 146, 152, 158, 164, 170, 175, 181, 187)
RECORDS = BUILT_IN[BUILT_IN.index("[[records]]") : BUILT_IN.index("[tolerances]")]
CLAIMS = BUILT_IN[BUILT_IN.index("[claims.float_speed]") : BUILT_IN.index("[requirements.no_float_in_service]")]
SPIDER = BUILT_IN[BUILT_IN.index("[spider]") : BUILT_IN.index("[fit]")]
KEYS = re.search(r"key_width = .*?\n(?=tangential)", BUILT_IN, re.DOTALL)[0]
GIVEN = '[spider]\nkind = "given"\nradial_stiffness = "1.0e10 N/m"\ngrowth = "0.05 mm"\ngrowth_speed = "125 rpm"\n\n'


def record(name, more=""):
    return f'[[records]]\nfile = "{name}.csv"\ncondition = "cold"\nlabel = "{name}"\n{more}\n'


def changed(*pairs, records=""):
    """The built-in case without its keys, with other records, and with texts replaced."""
    text = BUILT_IN.replace(RECORDS, records).replace(KEYS, "")
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


ONE, TWO = record("first"), record("first") + record("second", 'expected_change = "0.3 mm"')
CASES = {
    "no record": BUILT_IN.replace(RECORDS, ""),
    "one record": changed(records=record("turned")),
    "two records": changed(records=TWO),
    "requirements of other confidence": changed(
        ('at_least = "1.15 x rated"', 'at_least = "1.15 x rated"\nconfidence = 0.99'),
        ('at_most = "366 MPa"', 'at_most = "366 MPa"\nconfidence = 0.8'),
        records=ONE,
    ),
    "claims with a tolerance": changed(
        ('value = "14.2 mm"', 'value = "14.2 mm"\ntolerance = 0.02'),
        ('value = "1.49 x rated"', 'value = "1.49 x rated"\ntolerance = 0.05'),
        records=ONE,
    ),
    "the stack has grown": changed(
        ("tangential_clearance", 'settlement_of = "stack"\ntangential_clearance'), records=ONE
    ),
    "a record that decides nothing": changed(records=record("swapped")),
    "seated only": changed(records=record("slow")),
    "floating only": changed(records=record("loose")),
    "no claims, spider given": changed(
        (CLAIMS, ""),
        (SPIDER, GIVEN),
        ('"spider.arm_area" = { distribution = "triangular", half_width = "3 %" }\n', ""),
        records=ONE,
    ),
}  # fmt: skip


def write_record(case, name, folder):
    """An invented run with few points; its name says what it shows."""
    lost = {"second": 0.3, "loose": 1.9}.get(name, 0.6) * MILLIMETRE
    speeds = {"slow": np.linspace(20, 139, 14), "loose": np.linspace(90, 187, 14)}.get(name, WHOLE)
    run = Run(
        speeds=tuple(np.array(speeds) * RPM),
        run_down=name in ("turned", "swapped"),
        readings=2,
        planes=("upper",),
        sensors_per_plane=4,
        noise=0.02 * MILLIMETRE,
        offset=0.05 * MILLIMETRE,
        seed=7,
    )
    settled = replace(case.rotor, fit=replace(case.rotor.fit, settlement=lost))
    frame = virtual_run(settled, case.conditions["cold"], run)
    if name == "swapped":
        frame = frame.with_columns(frame["direction"].replace({"up": "down", "down": "up"}))
    frame.write_csv(folder / f"{name}.csv")


def reviewed(name):
    """The review of a case, with its records written beside it."""
    return once(f"review of {name}", lambda: _reviewed(name))


def _reviewed(name):
    with TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "unit.toml").write_text(CASES[name], encoding="utf-8")
        case = read_case(folder / "unit.toml")
        for row in case.records:
            write_record(case, Path(row.file).stem, folder)
        return review(case)
