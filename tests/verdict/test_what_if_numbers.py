"""The WHAT IF part of the page computes what the library computes: 10,000 drawn machines in a browser."""

import html
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from rimmodel.behaviour import float_speed, sweep
from rimmodel.behaviour.contact.speeds import interference_for_float_speed
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.verdict.output.what_if import MECHANICS
from rimmodel.verdict.output.what_if_inputs import condition_inputs, for_json, machine_inputs
from tests.behaviour.test_random_rotors import KINDS, machines
from tests.verdict.browser import browse, needs_browser

EACH, BLOCKS = 50, 50
"""Machines in a block, few enough for each to scallop between its own keys, and blocks of each kind of spider."""

QUANTITIES = ("gap", "residual_interference", "contact_pressure", "rim_stress", "spider_stress", "rim_growth")
LEAST = {"gap": 1e-6, "residual_interference": 1e-6, "rim_growth": 1e-6, "interference": 1e-6, "float_speed": 1e-3}
"""Below which a difference counts by itself: a thousandth of a millimetre, and of a rad/s; else 1 Pa."""

HARNESS = """<!doctype html><meta charset="utf-8"><pre id="found"></pre>
<script type="application/json" id="cases">CASES</script>
<script>MECHANICS
const least = LEAST, worst = {}, one_sided = {}, compared = {};
const number = value => value === "inf" ? Infinity : value === null ? NaN : value;
for (const row of JSON.parse(document.getElementById("cases").textContent)) {
  const machine = with_interference_left({ ...row.machine, rim: { ...row.machine.rim,
    hoop_stiffness_factor: row.moved.hoop_stiffness_factor } }, row.moved.interference_left);
  const found = quantity_values(machine, row.condition, row.speed);
  found.interference = needed_interference_left(machine, row.condition, row.knee);
  for (const [name, text] of Object.entries(row.expected)) {
    const want = number(text), have = found[name];
    compared[name] = (compared[name] || 0) + Number.isFinite(want);
    if (Object.is(want, have)) continue;
    if (!Number.isFinite(want) || !Number.isFinite(have)) { one_sided[name] = (one_sided[name] || 0) + 1; continue; }
    const off = Math.abs(have - want) / Math.max(Math.abs(want), least[name] || 1);
    if (!(off <= (worst[name] || 0))) worst[name] = off;
  }
}
document.getElementById("found").textContent = JSON.stringify({ worst, one_sided, compared });
</script>
"""


def drawn(kind, block):
    """Machines of one kind of spider in a condition, fields (EACH,); what a block has in common hangs on its number."""
    draw = np.random.default_rng([77, KINDS.index(kind), block])
    rotor, condition = machines(kind, EACH, seed=77 + block)
    rim, fit = rotor.rim, rotor.fit
    condition = replace(
        condition,
        rim_temperature_rise=0.0,
        excitation=("constant current", "constant voltage")[block % 3 == 0],
        pole_temperature=None if block % 5 == 0 else condition.pole_temperature,
    )
    if block % 2:
        widest = 2 * np.pi * rim.inner_radius / fit.key_count
        fit = replace(fit, key_width=draw.uniform(0.05, 1.0, EACH) * widest)
        rim = replace(rim, bending_stiffness_factor=draw.uniform(0.2, 1.2, EACH))
    if block % 3:
        fit = replace(fit, stack_growth=draw.uniform(0.0, 3e-5, EACH) * rim.inner_radius)
    if block % 4 == 0:
        rim = replace(rim, slot_depth=0.0, shear_modulus=None)
    return replace(rotor, rim=rim, fit=fit), condition, block % 2 == 1, draw


def moved(rotor, measured, draw):
    """The machines after the sliders of hoop stiffness and interference were moved, and where these stand."""
    hoop = np.clip(rotor.rim.hoop_stiffness_factor * draw.uniform(0.8, 1.2, EACH), 0.5, 1.2)
    hoop[::7] = 1.0  # the removable point of every formula
    left = rotor.rim.inner_radius * draw.uniform(-1e-5, 9e-4, EACH)
    stiff, fit = replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=hoop)), rotor.fit
    if measured:  # shimmed as it stands: what it has grown stays
        settlement = fit.interference - fit.stack_growth - left
        then = replace(stiff, fit=replace(fit, settlement=settlement))
    else:
        then = stiff.with_interference(left + fit.settlement + fit.stack_growth)
    return then, {"hoop_stiffness_factor": hoop, "interference_left": left}


def number(value):
    return "inf" if np.isposinf(value) else None if np.isnan(value) else float(value)


def expected_of(then, condition, measured, left, draw):
    """What the library says of the machines at a drawn speed and a drawn knee, fields (EACH,)."""
    highest = np.asarray(then.speeds.highest)
    speed, knee = highest * draw.uniform(0.0, 1.0, EACH), highest * draw.uniform(0.2, 1.0, EACH)
    asked = replace(then, speeds=replace(then.speeds, rated=speed, overspeed=speed, runaway=None))
    values = quantity_values(asked, condition, [f"{name}_at_rated" for name in QUANTITIES])
    expected = {name: values[f"{name}_at_rated"] for name in QUANTITIES}
    lift = expected["float_speed"] = float_speed(then, condition).speed
    fit = then.fit
    if not measured:
        needed = interference_for_float_speed(then, condition, knee)
        return speed, knee, expected | {"interference": needed - fit.settlement - fit.stack_growth}
    # the interference that a machine has is that of its own float speed, where the rim then floats and is not pulled
    # shut at once: nobody measures a knee there
    seen = (lift > 0) & (lift < 2 * highest)
    lift = np.where(seen, lift, 1e-3)
    at, after = (sweep(then, condition, lift * share).air_gap for share in (1.0 - 1e-7, 1.0 + 1e-7))
    seen &= np.abs(after - at) < 1e-4 * at
    return speed, np.where(seen, lift, knee), expected | {"interference": np.where(seen, left, -9.0)}


def rows():
    for kind in KINDS:
        for block in range(BLOCKS):
            rotor, condition, measured, draw = drawn(kind, block)
            then, sliders = moved(rotor, measured, draw)
            left = sliders["interference_left"]
            speed, knee, expected = expected_of(then, condition, measured, left, draw)
            table = {
                "machine": machine_inputs(rotor, measured=measured), "condition": condition_inputs(condition),
                "moved": sliders, "speed": speed, "knee": knee,
            }  # fmt: skip
            for place in range(EACH):
                expected_here = {name: number(values[place]) for name, values in expected.items()}
                if expected_here["interference"] == -9.0:
                    del expected_here["interference"]
                yield for_json(table, (place,)) | {"expected": expected_here}


@needs_browser
@pytest.mark.independent
def test_the_browser_computes_what_the_library_computes_on_ten_thousand_machines(tmp_path):
    cases = list(rows())
    assert len(cases) == 10_000
    page = HARNESS.replace("CASES", json.dumps(cases, allow_nan=False)).replace("LEAST", json.dumps(LEAST))
    (tmp_path / "harness.html").write_text(page.replace("MECHANICS", MECHANICS), encoding="utf-8")
    shown = browse(tmp_path / "harness.html", tmp_path, "--virtual-time-budget=60000", "--dump-dom", seconds=240)
    found = json.loads(html.unescape(re.search(r'<pre id="found">(.*?)</pre>', shown, re.DOTALL)[1]))
    assert found["one_sided"] == {}, "where one has a number and the other has none"
    assert min(found["compared"].values()) > 2000
    assert max(found["worst"].values()) < 1e-9, found["worst"]
