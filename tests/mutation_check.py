"""Does a wrong formula make a test fail? Breaks central formulas one by one in a copy and runs the tests there.

Each mutant replaces one piece of text in one file: a sign, a power or a factor. It is caught when an assertion fails in
a test whose expected number comes from outside (marked published, derived or independent); doctests and tests of our
own output do not count. The same tests must pass on an unbroken copy, else a failure would prove nothing. By hand::

    python tests/mutation_check.py                      all of them, two at a time: two to four minutes
    python tests/mutation_check.py --only "pole load"   one
    python tests/mutation_check.py --list               what there is

Exit 0 when all are caught, 1 when one survives or the unbroken copy fails. Add a mutant with every new central formula.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PARTS = ("rimmodel", "tests", "validation", "pyproject.toml")
OUTSIDE = "published or derived or independent"
AT_ONCE = 2

# stands at the top of the copy: a run that imported the installed package instead would prove nothing
GUARD = """from pathlib import Path

import rimmodel

assert Path(rimmodel.__file__).is_relative_to(Path(__file__).parent), rimmodel.__file__
"""


@dataclass(frozen=True)
class Mutant:
    """One formula broken: `text` in `file` (under rimmodel/) becomes `broken`; `tests` (under tests/) must show it."""

    name: str
    file: str
    text: str
    broken: str
    tests: tuple[str, ...]


RING, DISC, HARMONICS = "elastic/ring.py", "elastic/disc.py", "elastic/harmonics.py"
EDGES, LINES = "elastic/ring_edges.py", "behaviour/contact/coefficients.py"
CONTACT, SPIDER, SHAPE = "behaviour/contact/state.py", "behaviour/contact/spider.py", "behaviour/contact/shape.py"
GAPS, KNEE = "evidence/backfit/gap_model.py", "evidence/knee/inference.py"
IN_PRINT = ("test_validation.py::test_number",)
OF_RING, OF_DISC = ("elastic/test_ring.py",), ("elastic/test_disc.py",)
OF_PEAKS = ("behaviour/test_spider_stress.py",)
OF_SHEAR = ("behaviour/test_shear_and_even_keys.py",)
OF_GRADIENT = ("behaviour/test_rim_gradient.py",)
OF_TEETH = ("elastic/test_teeth.py",)
OF_CONTACT, OF_SPEEDS = ("behaviour/test_contact.py",), ("behaviour/test_landmarks.py",)
OF_SPIDER, OF_SHAPE = ("behaviour/test_spider.py",), ("behaviour/test_shape.py",)
OF_KEYS, OF_BENDING = ("behaviour/test_keyed.py",), ("elastic/test_harmonics.py",)
LOCKSTEP, OF_SETS = "behaviour/keys/lockstep.py", ("behaviour/test_key_study.py",)
NEIGHBOURS, OF_MACHINE = "evidence/measured/neighbours.py", ("evidence/test_measured_machine.py",)
PULL, OF_PULL = "behaviour/least_gap/net_pull.py", ("behaviour/test_net_pull.py",)
OF_LEAST = ("behaviour/test_least_gap.py",)
OF_AXIAL = ("behaviour/test_axial.py",)
OF_GAPS, OF_KNEE = ("evidence/test_gap_model.py",), ("evidence/test_knee.py",)
# the rest of that file simulates for half a minute

MUTANTS = (
    # rings and discs
    Mutant("exponent of the orthotropic ring", RING, "k = np.sqrt(m)", "k = np.sqrt(m**3)", OF_RING),
    Mutant("pressure on the ring", RING, "k * bore * (2 - inward)", "k * bore * (2 + inward)", OF_RING),
    Mutant("spin of the ring", RING, "spin_shape = (3 + nu * m)", "spin_shape = (3 - nu * m)", IN_PRINT),
    Mutant("strain of the ring", RING, "(hoop / m - nu * radial)", "(hoop / m + nu * radial)", OF_RING),
    Mutant("pressure at the edges", EDGES, "lame = k * (2 - full)", "lame = k * (1 - full)", IN_PRINT),
    Mutant("spin at the edges", EDGES, "    shape = (3 + nu * m)", "    shape = (3 - nu * m)", OF_CONTACT),
    Mutant("spin of the disc", DISC, "density * r, values", "density * r**2, values", OF_DISC),
    Mutant("bending of the rim", HARMONICS, "(1.0 + root_m) ** 2 +", "(1.0 + root_m) ** 2 -", OF_BENDING),
    Mutant("shear of the rim", HARMONICS, "(compliance - 2.0 *", "(compliance + 2.0 *", OF_SHEAR),
    Mutant("bending of a stack", HARMONICS, "(12.0 * a", "(6.0 * a", OF_BENDING),
    Mutant("compliance at the keys", "elastic/key_compliance.py",
           "(0.5 * mean + total)", "(mean + total)", ("elastic/test_key_compliance.py",)),
    Mutant("pull of the teeth", "elastic/teeth.py",
           "(b * b + b * c + c * c) / (3 * c)", "(b * b + b * c + c * c) / (2 * c)", OF_TEETH),
    Mutant("stretch of the teeth", "elastic/teeth.py",
           "np.log1p((b - c) / c) - cubes", "np.log1p((b - c) / c) + cubes", OF_TEETH),
    Mutant("wedging of a slot", "elastic/teeth.py", "np.pi / floats(count) *", "2 * np.pi / floats(count) *", OF_TEETH),
    Mutant("teeth hung on the ring", LINES, "traction + of_teeth,", "traction - of_teeth,", OF_TEETH),
    Mutant("mass of the teeth", SHAPE, "volume + tooth_mass", "volume - tooth_mass", OF_TEETH),
    Mutant("fully plastic speed", "elastic/plasticity.py",
           "+ a * a) / 3 + b", "+ a * a) / 2 + b", ("elastic/test_plasticity.py",)),
    Mutant("permanent growth", "elastic/overspeed.py",
           "(path - a * turns) - spin", "(path - a * turns) + spin", ("elastic/test_overspeed.py",)),
    Mutant("mean stress for burst", "elastic/burst.py",
           "+ b * b) / 3", "+ b * b) / 2", ("elastic/test_burst.py",)),
    # heat
    Mutant("spread of a heated wall", "elastic/wall_heating.py",
           "rate / (2 * self.conductivity)", "rate / self.conductivity", ("elastic/test_wall_heating.py",)),
    Mutant("wave of an uneven rim", "elastic/wall_heating.py",
           "/ (n**2 - 1))", "/ (n + 1))", ("elastic/test_wall_heating.py",)),
    Mutant("heat at the nodes", "elastic/heat_elements.py",
           "size * (2 * w[:-1] + w[1:]) / 6", "size * (w[:-1] + w[1:]) / 4", ("elastic/test_heat.py",)),
    Mutant("response of a mode", "elastic/heat_steps.py",
           "found = -lost / x", "found = 1.0 + lost", ("elastic/test_heat.py",)),
    Mutant("thermal stress of a ring", "elastic/thermal_stress.py",
           "(u / r - warm + nu * (radial - warm))", "(u / r + nu * (radial - warm))",
           ("elastic/test_thermal_stress.py",)),
    Mutant("slip of a stack", "elastic/slip.py",
           "(now - moved) / (share * modulus)", "now / (share * modulus)", ("elastic/test_slip_path.py",)),
    # the rotor
    Mutant("pole load", LINES, "(2 * np.pi * b * length)\n", "(np.pi * b * length)\n", OF_CONTACT),
    Mutant("growth of an arm", SPIDER, "- hub_radius**3) / 3)", "- hub_radius**3) / 2)", OF_SPIDER),
    Mutant("compliance of the arms", SPIDER, "per_arm = 2 *", "per_arm = 4 *", OF_SPIDER),
    Mutant("pressure on a profiled disc", "behaviour/limits/spider_stress.py",
           "spin[0] * squared - pressed[0]", "spin[0] * squared + pressed[0]", OF_PEAKS),
    Mutant("largest of the stresses", "behaviour/limits/spider_stress.py",
           "np.abs(hoop - radial)", "np.abs(hoop + radial)", OF_PEAKS),
    Mutant("stress of a warm rim", LINES,
           "(np.zeros_like(rise), rise)", "(rise, np.zeros_like(rise))", OF_GRADIENT),
    Mutant("mean of both sides of the rim", "rotor/rim_sides.py", "(a + 2 * b) /", "(2 * a + b) /", OF_GRADIENT),
    Mutant("yield of the rim outside", "behaviour/contact/speeds.py",
           "strength - model.warm_outer", "strength + model.warm_outer", OF_GRADIENT),
    Mutant("magnetic pull", LINES, "** 2 / (4 *", "** 2 / (2 *", OF_CONTACT),
    Mutant("pull carried to the rim", LINES, "* (face / b) *", "* (b / face) *", OF_CONTACT),
    Mutant("pull at constant current", CONTACT, "pull_constant / gap**2", "pull_constant / gap", OF_CONTACT),
    # float speed, contact and gap
    Mutant("settlement in the fit", LINES, "- floats(fit.settlement)", "+ floats(fit.settlement)", OF_SPEEDS),
    Mutant("heat in the fit", LINES, "- grown - self.warm_loss", "- grown + self.warm_loss", OF_SPEEDS),
    Mutant("expansion of rim less spider", LINES,
           "rim_rise - spider_expansion", "rim_rise + spider_expansion", OF_SPEEDS),
    Mutant("growth of rim less spider", LINES, "- spider.growth_per", "+ spider.growth_per", OF_SPEEDS),
    Mutant("pull in the fit", LINES,
           "- self.bore_per_traction * pull", "+ self.bore_per_traction * pull", OF_CONTACT),
    Mutant("pull in the float speed", CONTACT,
           "(at_rest - per_traction * pull) /", "(at_rest + per_traction * pull) /", OF_SPEEDS),
    Mutant("contact pressure", LINES, "+ spider.compliance if", "- spider.compliance if", OF_CONTACT),
    Mutant("slope of the seated gap", LINES, "- held * net_growth", "+ held * net_growth", OF_CONTACT),
    Mutant("slope of the floating gap", LINES,
           "* self.traction + self.pole_stretch", "* self.traction - self.pole_stretch", OF_CONTACT),
    # shape and keys
    Mutant("spin stiffness of the rim", SHAPE, "own = n**2 - 3.0", "own = n**2 - 1.0", OF_SHAPE),
    Mutant("spin stiffness of the poles", SHAPE, "+ 2.0 * lever *", "- 2.0 * lever *", OF_SHAPE),
    Mutant("pull on the shape", SHAPE, "(2.0 * MAGNETIC", "(4.0 * MAGNETIC", OF_SHAPE),
    Mutant("balance of the sideways shift", "behaviour/keys/keyed_rotor.py",
           "(held + spin - pull,", "(held + spin + pull,", OF_KEYS),
    Mutant("load on the shape", LOCKSTEP, "+ loads.force[panel] +", "- loads.force[panel] +", OF_SETS),
    Mutant("speed in the key forces", LOCKSTEP,
           "wanted[:, :, 1] -= closing[:, None]", "wanted[:, :, 1] -= closing[:, None] / 2", OF_SETS),
    Mutant("bound on a curve", "behaviour/keys/crossing.py",
           "stretch * stretch, stretch /", "stretch, stretch /", OF_SETS),
    Mutant("friction against the move", "behaviour/keys/history.py",
           "self.rub if inward else -self.rub", "-self.rub if inward else self.rub",
           ("behaviour/test_key_history.py",)),
    Mutant("force on a key", "behaviour/keys/complementarity.py",
           "pressed - inverse @ (shape @ mode)", "pressed + inverse @ (shape @ mode)", OF_KEYS),
    # the least gap
    Mutant("lowest point of a curve", "elastic/lowest_point.py", "-(turned.imag @ n)", "(turned.imag @ n)",
           ("elastic/test_lowest_point.py",)),
    Mutant("traction of the local gap", PULL, "(mean / width) ** 2", "(mean / width)", OF_PULL),
    Mutant("slope of the net pull", PULL, "2.0 * traction / width", "traction / width", OF_PULL),
    Mutant("mean traction of the field", "behaviour/least_gap/least.py", "(4.0 * MAGNETIC", "(2.0 * MAGNETIC",
           OF_LEAST),
    Mutant("rotor that turns", "behaviour/least_gap/least.py", "np.exp(-1j * n * angle)", "np.exp(1j * n * angle)",
           OF_LEAST),
    Mutant("offset of the bore", "behaviour/least_gap/shapes.py",
           "-floats(assembly.centre_offset) *", "-0.5 * floats(assembly.centre_offset) *", OF_LEAST),
    Mutant("keys that hold the shape", "behaviour/least_gap/shapes.py",
           "speed_squared * spin_stiffness(rotor, harmonic) - pull",
           "speed_squared * spin_stiffness(rotor, harmonic) + pull", OF_LEAST),
    Mutant("bias of the least gap", "evidence/reduction/bore_split.py", "return found - bias,", "return found + bias,",
           ("evidence/test_bore_split.py",)),
    # the rim along its length
    Mutant("shear and bending in series", "elastic/stack_coupling.py", "bends * shears / (bends + shears)",
           "bends + shears", OF_AXIAL),
    Mutant("depth in the bending of a stack", "elastic/stack_coupling.py", "axial * depth**3", "axial * depth**2",
           OF_AXIAL),
    Mutant("straight bars of a spider", "behaviour/axial/slices.py", "(1.0 + 4.0 * np.outer(height, height))",
           "(1.0 + 12.0 * np.outer(height, height))", OF_AXIAL),
    Mutant("poles on a part of the length", "behaviour/axial/slices.py",
           "* (sliced.poles - 1.0) - sliced.warm_face", "* (sliced.poles + 1.0) - sliced.warm_face", OF_AXIAL),
    Mutant("heat along the rim", "behaviour/axial/slices.py", "mean + self.tight - self.warm_bore",
           "mean + self.tight + self.warm_bore", OF_AXIAL),
    # what a test shows
    Mutant("interference from a float speed", "behaviour/contact/speeds.py",
           "net_growth * omega**2 - model.at_rest", "net_growth * omega**3 - model.at_rest", OF_SPEEDS),
    Mutant("spider in the back-fit", GAPS, "area / (response.compliance +", "area / (response.compliance -", OF_GAPS),
    Mutant("friction in the back-fit", LINES,
           "seated.at_rest - held * extra", "seated.at_rest + held * extra", OF_GAPS),
    Mutant("noise correlated in time", "evidence/knee/noise.py", "step**apart if", "step ** (2 * apart) if", OF_KNEE),
    Mutant("chance of a bend", KNEE, "length / (2.0 * math.pi)", "length / math.pi", OF_KNEE),
    Mutant("noise left beside a knee", "evidence/knee/posterior.py",
           "misfit - share * score**2", "misfit + share * score**2", OF_KNEE),
    Mutant("growth of the stack outside", LINES, "- grown * a / b", "- grown * b / a", OF_MACHINE),
    Mutant("shift of a line by the interference", LINES, "at_rest=free.at_rest - held * at_rest)",
           "at_rest=free.at_rest + held * at_rest)", OF_GAPS),
    Mutant("fit that follows a cause", NEIGHBOURS, "follow = -inverse", "follow = inverse", OF_MACHINE),
    Mutant("noise left beside the lift-off", NEIGHBOURS, "rest = covariance - np.outer", "rest = covariance + np.outer",
           OF_MACHINE),
    Mutant("level of the gaps", NEIGHBOURS, "return kept, held, rows[:, 3, None] - expected",
           "return kept, held, rows[:, 3, None] + expected", OF_MACHINE),
    Mutant("size of a bend", "evidence/knee/posterior.py", "share = size**2 / (1.0", "share = size / (1.0", OF_KNEE),
)  # fmt: skip


def mutated(mutant: Mutant) -> str:
    """The file with the formula broken; refused unless the text is there exactly once."""
    source = (ROOT / "rimmodel" / mutant.file).read_text(encoding="utf-8")
    count = source.count(mutant.text)
    if count != 1:
        raise ValueError(
            f'mutant "{mutant.name}": its text stands {count} times in {mutant.file}, it must stand there once; '
            f"bring it up to date: {mutant.text!r}"
        )
    return source.replace(mutant.text, mutant.broken)


def run(tests: Sequence[str], mutant: Mutant | None = None) -> subprocess.CompletedProcess[str]:
    """Run the outside tests among `tests` in a copy of the project, with or without a formula broken."""
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place).resolve()
        for part in PARTS:
            if (ROOT / part).is_dir():
                shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(ROOT / part, copy / part)
        (copy / "conftest.py").write_text(GUARD, encoding="utf-8")
        if mutant is not None:
            (copy / "rimmodel" / mutant.file).write_text(mutated(mutant), encoding="utf-8")
        # one thread each; summary lines unbroken; options of the caller could deselect what must run
        settings = {"PYTHONPATH": str(copy), "OMP_NUM_THREADS": "1", "COLUMNS": "400", "PYTEST_ADDOPTS": ""}
        command = [sys.executable, "-m", "pytest", "-x", "-q", "--color=no", "-p", "no:cacheprovider", "-m", OUTSIDE]
        command += [f"tests/{test}" for test in tests]
        return subprocess.run(
            command, cwd=copy, env={**os.environ, **settings}, capture_output=True, text=True, check=False
        )


def caught_by(mutant: Mutant) -> str | None:
    """Test whose assertion fails on the mutant; None when it survives. ValueError when the tests cannot run on it."""
    done = run(mutant.tests, mutant)
    failed = re.search(r"^FAILED (\S.*?) - (?:AssertionError|assert )", done.stdout, re.MULTILINE)
    if done.returncode == 1 and failed:
        return failed[1]
    if done.returncode == 0:
        return None
    raise ValueError(
        f'mutant "{mutant.name}": pytest ended with {done.returncode} and no assertion failed; '
        f"choose a text that still runs\n{done.stdout[-2000:]}{done.stderr[-2000:]}"
    )


def verdict(mutant: Mutant) -> tuple[bool, str]:
    """Whether the mutant was caught, and a line that says so."""
    what = f"{mutant.name}: {mutant.text.strip()} -> {mutant.broken.strip()}"
    try:
        test = caught_by(mutant)
    except ValueError as fault:
        return False, f"BAD       {what}\n{fault}"
    return test is not None, f"caught    {what}; by {test}" if test else f"SURVIVED  {what}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Check the mutants asked for and print a line for each."""
    parser = argparse.ArgumentParser(description="Break central formulas one by one; a test must fail for each.")
    parser.add_argument("--only", metavar="NAME", help="the mutant of this name alone")
    parser.add_argument("--list", action="store_true", help="print the names and stop")
    asked = parser.parse_args(arguments)
    chosen = [mutant for mutant in MUTANTS if asked.only in (None, mutant.name)]
    if not chosen:
        parser.error(f'no mutant is called "{asked.only}"; --list prints the names')
    if asked.list:
        print(*(f"{mutant.name}: {mutant.file}" for mutant in chosen), sep="\n")
        return 0
    with ThreadPoolExecutor(AT_ONCE) as pool:
        unbroken = pool.submit(run, sorted({test for mutant in chosen for test in mutant.tests}))
        verdicts = []
        for result in pool.map(verdict, chosen):
            verdicts.append(result[0])
            print(result[1], flush=True)
    sound = unbroken.result()
    print(f"{sum(verdicts)} of {len(verdicts)} caught; unbroken copy: {'passes' if sound.returncode == 0 else 'FAILS'}")
    if sound.returncode != 0:
        print(sound.stdout[-3000:], sound.stderr[-2000:])
    return 0 if all(verdicts) and sound.returncode == 0 else 1


if __name__ == "__main__":
    sys.exit(main())
