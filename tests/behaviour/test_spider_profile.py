"""The spider as a disc by its profile: against the plain disc, the disc solver, and nested rings that float."""

import numpy as np
import pytest

from rimmodel import float_speed, sweep
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.elastic import Disc, Ring
from rimmodel.elastic.nested import nested_rings
from rimmodel.rotor import DiscSpider
from rimmodel.rotor.rotor import RotorError
from tests.behaviour.invented_rotors import COLD, DISC, HOT, SPIDER_STEEL, bare_fit, changed

EVEN = DiscSpider(SPIDER_STEEL, profile=((1.1, 0.3), (2.0, 0.3), (4.0, 0.3)))
STEPPED = DiscSpider(SPIDER_STEEL, profile=((0.6, 0.5), (1.2, 0.5), (1.2, 0.22), (3.4, 0.3), (4.0, 0.3)))


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, HOT], ids=["cold", "hot"])
def test_an_even_profile_is_the_plain_disc(condition):
    plain, drawn = changed(spider=DISC), changed(spider=EVEN)
    speed = np.linspace(0.0, 24.0, 9)
    for name, values in vars(sweep(plain, condition, speed)).items():
        np.testing.assert_allclose(getattr(sweep(drawn, condition, speed), name), values, rtol=1e-9, atol=1e-14)
    assert float_speed(drawn, condition).speed == pytest.approx(float(float_speed(plain, condition).speed), rel=1e-10)


@pytest.mark.derived
def test_a_stepped_profile_meets_the_rim_by_line_load():
    radii, thicknesses = zip(*STEPPED.profile, strict=True)
    disc = Disc(radii, thicknesses, 203e9, 0.28, 7800.0)
    found = spider_response(changed(spider=STEPPED))
    share = 1.8 / 0.3
    assert found.growth_per_speed_squared == pytest.approx(float(disc.state(4.0, speed=1.0).radial_displacement))
    assert found.compliance == pytest.approx(-share * float(disc.state(4.0, outer_traction=-1.0).radial_displacement))
    assert found.hoop_per_speed_squared == pytest.approx(float(disc.state(0.6, speed=1.0).hoop_stress))
    assert found.hoop_per_pressure == pytest.approx(share * float(disc.state(0.6, outer_traction=-1.0).hoop_stress))
    assert found.hoop_per_pressure < 0


@pytest.mark.independent
def test_a_rim_on_a_disc_is_a_pair_of_nested_rings_seated_and_floating():
    rotor = bare_fit(SPIDER_STEEL, 0.5, 2.0, 2.6, 1.1e-3)
    speed = np.linspace(0.0, 140.0, 15)
    steel = (203e9, 0.28, 7800.0)
    pair = nested_rings([Ring(0.5, 2.0, *steel), Ring(2.0, 2.6, *steel)], [1.1e-3], speed)
    found = sweep(rotor, COLD, speed)
    np.testing.assert_allclose(found.contact_pressure, pair.contact_pressure[0], rtol=1e-9, atol=1.0)
    assert found.contact_pressure[-1] == 0.0
    np.testing.assert_allclose(np.maximum(-found.residual_interference, 0.0), pair.clearance[0], rtol=1e-9, atol=1e-13)


@pytest.mark.parametrize(
    ("profile", "words"),
    [
        (((1.0, 0.3),), "two or more pairs"),
        (((1.0, 0.3), (0.9, 0.3), (4.0, 0.3)), "profile row 2 has radius 0.9 m, row 1 1 m; radii must rise"),
        (((1.0, 0.3), (4.0, 0.0)), "profile row 2 has thickness 0 m; it must be above zero"),
        (((-1.0, 0.3), (4.0, 0.3)), "profile row 1 has radius -1 m"),
        (((1.0, 0.3), (1.0, 0.2), (4.0, 0.2)), "gives a radius twice at its bore"),
        (((1.0, 0.3), (2.0, 0.3), (2.0, 0.2), (2.0, 0.1), (4.0, 0.2)), "or three times"),
        (((1.0, float("nan")), (4.0, 0.3)), "profile row 1 has thickness nan m"),
    ],
)
def test_a_profile_that_is_no_disc_is_refused(profile, words):
    with pytest.raises(ValueError, match=words):
        DiscSpider(SPIDER_STEEL, profile=profile)


def test_a_disc_is_plain_or_by_profile_and_not_both():
    with pytest.raises(ValueError, match="thickness is missing"):
        DiscSpider(SPIDER_STEEL, 0.5)
    with pytest.raises(ValueError, match="profile takes the place of bore_radius and thickness"):
        DiscSpider(SPIDER_STEEL, 0.5, 0.3, EVEN.profile)


def test_a_profile_must_end_at_the_rim_bore():
    with pytest.raises(RotorError, match=r"spider.profile ends at 3900 mm; it must end at rim.inner_radius, 4000 mm"):
        changed(spider=DiscSpider(SPIDER_STEEL, profile=((0.5, 0.3), (3.9, 0.3))))
