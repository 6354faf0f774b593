"""Claims, requirements, records, duty and tolerances obey the rules of their fields, from a file or from a program."""

from dataclasses import fields

import numpy as np
import pytest

from rimmodel.rotor.allowances import DutyCycle, Torque
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.format import (
    ClaimTable,
    CorrelationTable,
    DutyTable,
    RecordTable,
    RequirementTable,
    ToleranceTable,
)
from rimmodel.rotor.quantity import choices_of
from rimmodel.rotor.registry import quantity_names
from rimmodel.rotor.requirements import CaseRecord, Claim, Requirement
from rimmodel.rotor.tolerance import Correlation, Tolerance
from rimmodel.units import MEGAPASCAL, RPM

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")


def requirement(quantity="float_speed", at_least=15.0, at_most=None, confidence=0.95):
    return Requirement("late", quantity, "cold", at_least, at_most, confidence)


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (lambda: Claim("flot_speed", 15.0), "quantity is 'flot_speed'; it must be one of float_speed, "),
        (lambda: Claim("float_speed", -120 * RPM), "value is -120 rpm; it must be above zero"),
        (lambda: Claim("gap_at_rated", 0.0), "value is 0 m; it must be above zero"),
        (lambda: Claim("gap_at_rated", np.nan), "value is nan; it must be a finite number"),
        (lambda: Claim("float_speed", 15.0, tolerance=5.0), "tolerance is 5; it must be 0 or above and below 1"),
        (lambda: requirement(confidence=95.0), "confidence is 95; it must be from 0.5 to 0.99"),
        (lambda: requirement(at_most=20.0), "Requirement: give either at_least or at_most"),
        (lambda: requirement(at_least=None), "Requirement: give either at_least or at_most"),
        (lambda: requirement(at_least=None, at_most=-1.0 * RPM), "at_most is -1 rpm; it must be above zero"),
        (lambda: CaseRecord("run.csv", direction="both"), "direction is 'both'; it must be one of up, down"),
        (lambda: CaseRecord("run.csv", sensor_gain=0.5), "sensor_gain is 0.5; it must be 0 or above and below 0.5"),
        (lambda: CaseRecord("run.csv", sensor_offset=-1e-4), "sensor_offset is -0.0001 m; it must be zero or above"),
        (lambda: CaseRecord("run.csv", temperature_uncertainty=-1.0), "temperature_uncertainty is -1 K"),
        (
            lambda: CaseRecord("run.csv", temperature_gain=0.0),
            "temperature_gain is 0; it must be above 0",
        ),
        (lambda: DutyCycle(20.0, 10.0, 5.0), "to is 95.493 rpm; it must be faster than from, 190.986 rpm"),
        (lambda: DutyCycle(0.0, 10.0, 2e9), "count is 2e.09; it must be above zero and at most 1e9"),
        (lambda: Tolerance("rim.length", 1.0, "gauss", 0.1), "distribution is 'gauss'; it must be one of normal, "),
        (lambda: Tolerance("rim.length", 1.0, "normal", 0.0), "standard is 0; it must be above zero"),
        (lambda: Correlation(("a", "b"), 1.0), "coefficient is 1; it must be above -1 and below 1"),
        (lambda: Torque(5e6, carried_by="luck"), "carried_by is 'luck'; it must be one of keys, friction"),
    ],
)
def test_what_a_program_states_obeys_the_same_rules(made, words):
    with pytest.raises(ValueError, match=words):
        made()


def test_a_stress_or_growth_may_be_claimed_at_zero_and_below():
    assert Claim("rim_stress_at_standstill", -5 * MEGAPASCAL).value == -5e6


@pytest.mark.parametrize(
    ("stored", "table", "others"),
    [
        (Claim, ClaimTable, {"quantity"}),
        (Requirement, RequirementTable, {"name"}),
        (CaseRecord, RecordTable, {"columns_file"}),  # named on the command line
        (DutyCycle, DutyTable, {"name"}),
        (Tolerance, ToleranceTable, {"name", "centre"}),
        (Correlation, CorrelationTable, set()),
    ],
)
def test_the_keys_of_a_file_are_the_fields_that_are_stored(stored, table, others):
    keys = set(table.model_fields) - {"cells"}  # which are stored with the columns
    assert {field.name for field in fields(stored)} - others == keys


def test_the_names_of_quantities_are_those_of_the_moment():
    metadata = next(field.metadata for field in fields(Claim) if field.name == "quantity")
    assert choices_of(metadata) == quantity_names()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ('[claims.rim_growth_at_rated]\nvalue = "1 mm"\ntolerance = 1.0', "tolerance is 1.0"),
        ('[requirements.x]\nquantity = "gap_at_rated"', "requirements.x: give either at_least or at_most"),
        (
            '[requirements.x]\nquantity = "gap_at_rated"\nat_least = "9 mm"\nat_most = "10 mm"',
            "requirements.x: give either at_least or at_most",
        ),
        (
            '[requirements.x]\nquantity = "gap_at_rated"\nat_least = "9 mm"\nconfidence = 0.4',
            "requirements.x.confidence is 0.4",
        ),
        ('[requirements.x]\nquantity = "gap_at_rated"\nat_least = "0 mm"', "at_least is '0 mm'; it must be above zero"),
        ('[[duty]]\nfrom = "rated"\nto = "standstill"\ncount = 5', "duty[3].to is 0 rpm; it must be above zero"),
        (
            '[[duty]]\nfrom = "rated"\nto = "rated"\ncount = 5',
            "duty[3].to is 125 rpm; it must be faster than from, 125 rpm",
        ),
        ('[[duty]]\nfrom = "rated"\nto = "runaway"\ncount = 2e9', "above zero and at most 1e9"),
        ('[[records]]\nfile = "a.csv"\ndirection = "upp"', "records[3].direction is 'upp'"),
        ('[[records]]\nfile = "a.csv"\nsensor_offset = "-1 mm"', "records[3].sensor_offset is '-1 mm'"),
        ('[[records]]\nfile = "a.csv"\ntemperature_uncertainty = "-1 K"', "temperature_uncertainty is '-1 K'"),
        ('[[records]]\nfile = "a.csv"\ntemperature_gain = 0.8', "records[3].temperature_gain is 0.8"),
        ('[[records]]\nfile = "a.csv"\ntemperatures = 20', "records[3].temperatures"),
    ],
)
def test_a_file_that_breaks_one_is_refused_by_its_key(table, words):
    with pytest.raises(CaseError) as caught:
        parse_case(f"{TEXT}\n{table}\n".encode(), "unit.toml")
    assert words in str(caught.value)
