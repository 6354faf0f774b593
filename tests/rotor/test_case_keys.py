"""The keys of a case file that describe shims, key bars, guides and the shape of the rim."""

import re

import numpy as np
import pytest

from rimmodel.rotor import Rim, ShrinkFit
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.rotor.rim import ShapeHarmonic


def _plain():
    """The built-in case without its own key bars and guides."""
    text = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
    text = re.sub(r"^key_interference = \[.*?^\]$", "", text, flags=re.MULTILINE | re.DOTALL)
    return re.sub(r"^(key_width|tangential_clearance|guide_stiffness) = .*$", "", text, flags=re.MULTILINE)


TEXT = _plain()
LIST = ", ".join(f'"{2.1 + 0.1 * (-1) ** i:.1f} mm"' for i in range(14))


def _uneven():
    keys = (
        f'key_width = "300 mm"\nkey_interference = [{LIST}]\nfirst_key_angle = "10 deg"\n'
        'tangential_clearance = "0.3 mm"\nguide_stiffness = "3e9 N/m"\nkey_interference_tolerance = "0.1 mm"\n'
    )
    text = TEXT.replace("[fit]\n", "[fit]\n" + keys)
    shape = 'bending_stiffness_factor = 0.7\nshape = [{harmonic = 2, amplitude = "0.3 mm", phase = "20 deg"}]\n'
    return text.replace("[rim]\n", "[rim]\n" + shape)


UNEVEN = _uneven()


def faults(text):
    with pytest.raises(CaseError) as caught:
        parse_case(text.encode(), "case.toml")
    return "\n".join(caught.value.faults)


def test_every_key_is_read():
    rotor = parse_case(UNEVEN.encode(), "case.toml").rotor
    fit = rotor.fit
    assert fit.key_width == 0.3
    assert fit.key_interference == pytest.approx([2.2e-3, 2.0e-3] * 7)
    assert fit.interference == pytest.approx(2.1e-3)
    assert fit.first_key_angle == pytest.approx(np.deg2rad(10))
    assert (fit.tangential_clearance, fit.guide_stiffness, fit.key_interference_tolerance) == (0.3e-3, 3e9, 0.1e-3)
    assert rotor.rim.shape == (ShapeHarmonic(2, 0.3e-3, np.deg2rad(20)),)
    assert rotor.rim.harmonic_ring.bending_stiffness_factor == 0.7


def test_the_mean_may_be_left_out_when_every_key_is_given():
    text = UNEVEN.replace('interference = "2.1 mm" ', "", 1)
    assert "\ninterference =" not in text
    assert parse_case(text.encode(), "case.toml").rotor.fit.interference == pytest.approx(2.1e-3)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"2.2 mm", ', "", "fit.key_interference has 13 values; it must have one for each of the 14 keys"),
        ('"2.2 mm", ', '"2,2 mm", ', "fit.key_interference[1]"),
        ('\ninterference = "2.1 mm"', '\ninterference = "2.3 mm"', "they must agree within 0.01 mm"),
        ('amplitude = "0.3 mm"', 'amplitude = "0.3 kg"', "rim.shape[1].amplitude"),
        ("harmonic = 2", "harmonic = 0", "rim.shape[1].harmonic is 0"),
        ("harmonic = 2", "harmonc = 2", "did you mean 'harmonic'?"),
        ('key_width = "300 mm"', 'key_width = "-300 mm"', "fit.key_width"),
        ('guide_stiffness = "3e9 N/m"', "guide_stiffness = 3e9", "fit.guide_stiffness"),
        ("bending_stiffness_factor = 0.7", "bending_stiffness_factor = 0.0", "rim.bending_stiffness_factor is 0.0"),
    ],
)
def test_faults_name_key_value_and_rule(old, new, words):
    assert words in faults(UNEVEN.replace(old, new, 1))


def test_neither_mean_nor_keys_is_a_fault():
    text = TEXT.replace('\ninterference = "2.1 mm"', "\n", 1)
    assert "give interference, or key_interference for each key" in faults(text)


def test_the_inputs_check_themselves():
    with pytest.raises(ValueError, match="key_interference is nan"):
        ShrinkFit(2e-3, key_interference=(2e-3, np.nan))
    with pytest.raises(ValueError, match="one value for each key"):
        ShrinkFit(2e-3, key_interference=(2e-3,))
    with pytest.raises(ValueError, match=r"harmonic is 1\.5"):
        ShapeHarmonic(1.5, 1e-3)
    with pytest.raises(ValueError, match="bending_stiffness_factor"):
        Rim(parse_case(UNEVEN.encode(), "x").rotor.rim.material, 3.0, 3.5, 1.0, bending_stiffness_factor=-1.0)


def test_the_schema_knows_the_lists():
    pytest.importorskip("jsonschema")
    import tomllib

    import jsonschema

    schema = case_schema()
    jsonschema.validate(tomllib.loads(UNEVEN), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(UNEVEN.replace('"2.2 mm", ', "2.2, ", 1)), schema)
