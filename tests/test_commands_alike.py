"""What 'check' calls complete every other command accepts: random legal machines through all of them."""

import json
import math
import re

import numpy as np
import pytest

from rimmodel.cli.program import main
from rimmodel.rotor.case.case import EXAMPLES, parse_case

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
VARIED = ("length", "mass", "arm_area", "hub_radius", "tip_mass", "interference", "cold", "flux_density", "key_width")
COMMANDS = (
    ("check",),
    ("sweep", "--json", "--points", "5"),
    ("keys", "--json"),
    ("window", "--json"),
    ("shims", "--json", "--readings", "keys.csv"),
    ("plan", "--json"),
    ("study", "--samples", "64", "--json"),
    ("review", "--json"),
)


def random_case(seed):
    """The built-in case without its records, each number of `VARIED` up to 4 % larger or smaller."""
    rng = np.random.default_rng([77, seed])
    text = TEXT[: TEXT.index("[[records]]")] + TEXT[TEXT.index("[tolerances]") :]
    text = text[: text.index("key_interference = [")] + text[text.index("tangential_clearance") :]
    for key in VARIED:
        found = re.search(rf'^{key} = "([\d.]+) ([^"]+)"', text, flags=re.M)
        value = float(found[1]) * rng.uniform(0.96, 1.04)
        text = f'{text[: found.start()]}{key} = "{value:.6g} {found[2]}"{text[found.end() :]}'
    return text


def leaves(value):
    """Every number of a JSON value."""
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in leaves(part)]
    if isinstance(value, list):
        return [leaf for part in value for leaf in leaves(part)]
    return [value] if isinstance(value, int | float) else []


@pytest.mark.parametrize("seed", range(3))
def test_a_complete_case_serves_every_command(seed, tmp_path, monkeypatch, capsys):
    text = random_case(seed)
    parse_case(text.encode(), "unit.toml")
    (tmp_path / "unit.toml").write_text(text, encoding="utf-8")
    mean = re.search(r'^interference = "([\d.]+) mm"', text, flags=re.M)[1]
    rows = "".join(f"{key},{float(mean) + 0.02 * (key % 3):.3f}\n" for key in range(1, 15))
    (tmp_path / "keys.csv").write_text(f"key,interference [mm]\n{rows}", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for name, *options in COMMANDS:
        monkeypatch.setattr("sys.argv", ["rimmodel", name, "unit.toml", *options])
        try:
            main()
            code = 0
        except SystemExit as end:
            code = end.code or 0
        streams = capsys.readouterr()
        assert code == 0, (name, streams.err)
        if "--json" in options:
            assert all(math.isfinite(number) for number in leaves(json.loads(streams.out)))
