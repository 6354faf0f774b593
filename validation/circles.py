"""Open data on roundness: Gander, Golub & Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994).

Six points of section 1 with the circle of least distances printed there; data and results from memory.
"""

from __future__ import annotations

from rimmodel.elastic.roundness import Circle, least_squares_circle
from validation.check import Check, Group, Provenance

GROUP = Group.OPEN_DATA
SIX_X, SIX_Y = (1.0, 2.0, 5.0, 7.0, 9.0, 3.0), (7.0, 6.0, 8.0, 7.0, 5.0, 7.0)
SOURCE = "Gander, Golub & Strebel, BIT 34 (1994) 558-578, section 1, geometric fit, from memory"


def checks() -> tuple[Check, ...]:
    recalled = Provenance.FROM_MEMORY
    return (
        Check("RND-1a", "six points: centre, x", SOURCE, "4.7398", "-", lambda: _circle().x, recalled),
        Check("RND-1b", "six points: centre, y", SOURCE, "2.9835", "-", lambda: _circle().y, recalled),
        Check("RND-1c", "six points: radius", SOURCE, "4.7142", "-", lambda: _circle().radius, recalled),
    )


def _circle() -> Circle:
    return least_squares_circle(SIX_X, SIX_Y)
