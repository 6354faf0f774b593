"""What knowing one cause exactly would do, on right-angled triangles that a hand can check."""

import math

import pytest

from rimmodel.rotor.case.case import example_case
from rimmodel.units import RPM
from rimmodel.verdict.deciding import causes, causes_table, deciding, main_causes
from rimmodel.verdict.judge import Finding, verdict_of_interval

CASE = example_case()

pytestmark = pytest.mark.derived


def finding(limit, *, at_least=True, interval=(145.0, 155.0), best=150.0, parts=None, name="kept"):
    """A float speed of 150 rpm with sides of 3, 4 and so 5 rpm, judged against a limit; all in rpm."""
    sides = {"poles.mass": (3.0, 3.0), "recording": (4.0, 4.0)} if parts is None else parts
    low, high = (end * RPM for end in interval)
    verdict = verdict_of_interval((low, high), limit * RPM, at_least)
    return Finding(
        name, "requirement", "float_speed", "hot", limit * RPM, limit * RPM, at_least, 0.95, 150 * RPM, (low, high),
        None if best is None else best * RPM, (low, high), "run", verdict,
        (best or 0.0) / limit - 1, None, "",
        {key: (below * RPM, above * RPM) for key, (below, above) in sides.items()},
    )  # fmt: skip


def rpm(interval):
    return tuple(end / RPM for end in interval)


def test_causes_leave_in_quadrature_and_the_verdict_follows():
    first, second = causes(CASE, finding(146.5))
    assert (first.name, second.name) == ("recording", "poles.mass")
    assert (first.share, second.share) == pytest.approx((16 / 25, 9 / 25))
    assert rpm(first.known) == pytest.approx((147.0, 153.0))
    assert rpm(second.known) == pytest.approx((146.0, 154.0))
    assert (first.verdict, second.verdict) == ("holds", "not shown")
    assert finding(146.5).verdict == "not shown"


def test_the_side_that_faces_the_limit_counts():
    skew = {"recording": (3.0, 12.0), "gain of the sensors": (4.0, 5.0)}
    below = causes(CASE, finding(146.0, parts=skew, interval=(145.0, 163.0)))
    assert [row.name for row in below] == ["gain of the sensors", "recording"]
    above = causes(
        CASE, finding(153.0, parts=skew, interval=(145.0, 163.0))
    )  # the best value misses it: the upper side
    assert [row.name for row in above] == ["recording", "gain of the sensors"]
    assert above[0].share == pytest.approx(144 / 169)
    assert rpm(above[0].known) == pytest.approx((146.0, 155.0))


def test_two_readings_stay_apart_when_a_cause_is_known_and_are_a_cause_themselves():
    # the other reading reaches 10 rpm lower: knowing the recording takes 5 - 3 rpm off both ends
    reading, noise, mass = causes(CASE, finding(146.5, interval=(135.0, 155.0)))
    assert rpm(noise.known) == pytest.approx((137.0, 153.0))
    assert noise.verdict == "not shown"
    assert rpm(reading.known) == pytest.approx((145.0, 155.0))
    assert "the stack" in reading.name
    assert (mass.share, noise.share) == pytest.approx((9 / 25, 16 / 25))
    assert reading.share is None


def test_only_causes_above_a_tenth_are_named_but_never_none():
    parts = {"recording": (9.0, 9.0), "poles.mass": (1.0, 1.0)}
    half = math.hypot(9.0, 1.0)
    row = finding(145.0, parts=parts, interval=(150.0 - half, 150.0 + half))
    assert [cause.name for cause in main_causes(CASE, row)] == ["recording"]
    even = {f"cause {number}": (1.0, 1.0) for number in range(25)}
    assert len(main_causes(CASE, finding(146.0, parts=even))) == 1


def test_what_is_not_shown_comes_first_else_what_is_nearest_to_its_limit():
    far, near, open_ = finding(100.0, name="far"), finding(144.9, name="near"), finding(146.5, name="open")
    assert [row.name for row in deciding(CASE, [far, near, open_])] == ["open"]
    assert [row.name for row in deciding(CASE, [far, near])] == ["near"]
    assert deciding(CASE, []) == ()


@pytest.mark.parametrize(
    "row",
    [
        finding(146.5, best=None, interval=(145.0, math.inf)),
        finding(146.5, parts={}),
        finding(146.5, parts={"recording": (math.inf, 1.0)}),
    ],
)
def test_an_interval_without_parts_names_no_cause(row):
    assert causes(CASE, row) == ()
    assert causes_table(CASE, row) == []
    assert deciding(CASE, [row]) == ()
