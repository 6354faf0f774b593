"""Bad command lines and bad places to write: what is called, where, and the words that the one message must hold.

Every command runs in a folder of its own, filled by its setup: ``unit.toml`` is a good case that names
``run.csv``, a good recording. All numbers are invented.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rimmodel.rotor.case.case import EXAMPLES

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
CASE = NEW + '\n[[records]]\nfile = "run.csv"\ncondition = "cold"\nlabel = "first run"\n'


def _recording() -> str:
    gaps = [(n, 15.0 - 2e-5 * n**2 - 1.5e-5 * max(n**2 - 200.0**2, 0.0)) for n in range(20, 320, 15)]
    return "speed [rpm],gap [mm]\n" + "".join(f"{n},{gap:.4f}\n" for n, gap in gaps)


def good(folder: Path) -> None:
    """A good case with a good recording."""
    (folder / "unit.toml").write_text(CASE, encoding="utf-8")
    (folder / "run.csv").write_text(_recording(), encoding="utf-8")


def places(folder: Path) -> None:
    """The same, with a plain file, a folder and a pipe, where results might be asked for."""
    good(folder)
    (folder / "plain").write_text("mine", encoding="utf-8")
    (folder / "folder").mkdir()
    os.mkfifo(folder / "pipe")


def links(folder: Path) -> None:
    """The same, with other names for the inputs."""
    good(folder)
    os.link(folder / "run.csv", folder / "hard.csv")
    (folder / "soft.csv").symlink_to("run.csv")
    os.link(folder / "unit.toml", folder / "hard.toml")
    (folder / "soft").symlink_to(folder)


def _named(name: str) -> Callable[[Path], None]:
    def setup(folder: Path) -> None:
        """A case whose recording has the name of a result."""
        (folder / "unit.toml").write_text(CASE.replace("run.csv", name), encoding="utf-8")
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(_recording(), encoding="utf-8")

    return setup


def existing(folder: Path) -> None:
    """Results of an earlier run, by name."""
    good(folder)
    for name in ("window.txt", "plan.json", "key_map.svg", "review.html", "sweep.csv", "study.json"):
        (folder / name).write_text("mine", encoding="utf-8")


def edited(folder: Path) -> None:
    """A case that somebody has begun to fill in, and one with a slip that keeps it from being read."""
    good(folder)
    (folder / "own.toml").write_text(NEW.replace('"3 m"', '"3.1 m"'), encoding="utf-8")
    (folder / "slip.toml").write_text(NEW.replace('"3 m"', '"3.1 m'), encoding="utf-8")


def warmed(folder: Path) -> None:
    """A case whose record names tables of temperatures that are missing or cannot be."""
    good(folder)
    for name in ("lost", "short", "bare"):
        (folder / f"{name}.toml").write_text(f'{CASE}temperatures = "{name}.csv"\n', encoding="utf-8")
    (folder / "short.csv").write_text("time [s],rim_temperature [degC]\n0,20\n", encoding="utf-8")
    (folder / "bare.csv").write_text("time [s],rim_temperature\n0,20\n900,30\n", encoding="utf-8")


def empty(folder: Path) -> None:
    """Nothing at all."""


@dataclass(frozen=True)
class BadCommand:
    """A command line, what its folder holds, and words of the one message."""

    line: str
    words: tuple[str, ...]
    setup: Callable[[Path], None] = good


def _bad(line: str, *words: str, setup: Callable[[Path], None] = good) -> BadCommand:
    return BadCommand(line, words, setup)


HUGE = "9" * 400

USAGE = (
    _bad("", "missing command", "--help"),
    _bad("frobnicate", "no such command 'frobnicate'"),
    _bad("Review", "no such command 'Review'"),
    _bad("--frobnicate", "no such option: --frobnicate"),
    _bad("--versions", "no such option"),
    _bad("review --frobnicate", "no such option: --frobnicate", "rimmodel review --help"),
    _bad("review unit.toml second.toml", "unexpected extra argument", "second.toml"),
    _bad("review unit.toml --out", "'--out' requires an argument"),
    _bad("review --record", "'--record' requires an argument"),
    _bad("new", "missing argument 'FILE'"),
    _bad("new a.toml b.toml", "unexpected extra argument"),
    _bad("fleet", "missing argument 'FOLDER'"),
    _bad("check unit.toml extra", "extra: no such file"),
    _bad("check unit.toml --columns none.toml", "a recording that is named too"),
    _bad("check --draft-07", "write --schema --draft-07"),
    _bad("check --schema unit.toml", "leave unit.toml out"),
    _bad("new rimmodel.schema.json", "name the case otherwise"),
    _bad("sweep --json=yes", "--json", "does not take a value"),
    _bad("fit --from 3", "no such option: --from"),
    _bad("plan --condition", "'--condition' requires an argument"),
    _bad("heating unit.toml", "the case has no [heating]", "rimmodel new FILE"),
    _bad("heating unit.toml --out", "'--out' requires an argument"),
    _bad("heating --out plain", "plain is not a directory", setup=places),
    _bad("fit --pooled-verdicts", "no such option: --pooled-verdicts"),
    _bad("fleet . --pooled-verdicts=yes", "--pooled-verdicts", "does not take a value"),
    _bad("fit lost.toml", "lost.csv", "no such file", setup=warmed),
    _bad("review short.toml", "short.csv has 1 usable row", "at least 2", setup=warmed),
    _bad("check bare.toml", "'rim_temperature' has no unit", "rim_temperature [degC]", setup=warmed),
    _bad("study --workers", "'--workers' requires an argument"),
)

NUMBERS = (
    *(_bad(f"sweep --points {text}", "--points", words) for text, words in (
        ("0", "--points is 0"), ("-1", "--points is -1"), ("1000001", "1 to 1000000"), ("1000000000", "1 to 1000000"),
        ("many", "not a whole number"), ("1.5", "--points"), ("nan", "--points"), ("1e3", "--points"),
        (HUGE, "--points"), ("''", "--points"),
    )),
    *(_bad(f"sweep --from {text}", "--from", words) for text, words in (
        ("-5", "--from is -5 rpm"), ("nan", "from 0 to"), ("inf", "from 0 to"), ("-inf", "from 0 to"),
        ("1e400", "from 0 to"), ("fast", "not a number"), ("10,5", "not a number"), ("100rpm", "not a number"),
    )),
    *(_bad(f"sweep --to {text}", "--to", words) for text, words in (
        ("-5", "--to is -5 rpm"), ("nan", "from 0 to"), ("inf", "from 0 to"), ("1e200", "from 0 to"),
        ("1e400", "from 0 to"), ("fast", "not a number"),
    )),
    _bad("sweep --from 100 --to 50", "below --from 100 rpm"),
    _bad("sweep --from 1e9", "--from is 1e+09 rpm"),
    *(_bad(f"study --workers {text}", "--workers is", words) for text, words in (
        ("0", "from 1 to"), ("-1", "from 1 to"), ("1000000000", "from 1 to"), ("257", "from 1 to"),
        ("two", "from 1 to"), ("1.5", "from 1 to"), ("²", "from 1 to"), ("1e3", "from 1 to"), ("127.0.0.1:8786", "tcp://"),
        (HUGE, "from 1 to"), ("''", "from 1 to"),
    )),
    _bad("fleet . --workers 0", "--workers is 0", "from 1 to"),
    _bad("fleet . --workers many", "--workers is many"),
    *(_bad(f"study --samples {text}", words) for text, words in (
        ("0", "samples"), ("-1", "samples"), ("1.5", "--samples"), ("many", "--samples"), (HUGE, "samples"),
    )),
    *(_bad(f"keys --course {text}", "--course is", words) for text, words in (
        ("0,x", "rpm between commas"), ("5", "two speeds at least"), ("0,-1", "none below zero"),
        ("0,nan,0", "none below zero"), ("0,9,9", "must differ"),
    )),
    *(_bad(f"keys --friction {text}", "--friction is", "above zero, in mm") for text in ("0", "-1", "nan", "inf")),
    *(_bad(f"study --seed {text}", "seed") for text in ("-1", "1.5", "x", HUGE)),
)  # fmt: skip

INPUTS = (
    *(_bad(f"{command} none.toml", "none.toml", "no such file")
      for command in ("check", "review", "fit", "keys", "sweep", "window", "plan", "study")),
    *(_bad(f"{command} folder", "folder", "directory", setup=places) for command in ("check", "review", "sweep")),
    _bad("check ''", "directory"),
    _bad("review unit.toml --record none.csv", "none.csv", "no such file"),
    _bad("fit unit.toml none.csv", "none.csv", "no such file"),
    _bad("review unit.toml --record folder", "folder", "directory", setup=places),
    _bad("review unit.toml --condition cold", "give the recording too"),
    _bad("review unit.toml --record run.csv --condition hot --condition cold", "1 --record and 2 --condition"),
    _bad("fit unit.toml run.csv run.csv --condition hot", "2 --record and 1 --condition"),
    _bad("review unit.toml --record run.csv --condition colt", "did you mean 'cold'"),
    *(_bad(f"{command} unit.toml --condition colt", "did you mean 'cold'")
      for command in ("sweep", "keys", "plan", "least-gap")),
    _bad("sweep unit.toml --condition ''", "no condition ''"),
    _bad("fleet none", "none is not a folder"),
    _bad("fleet unit.toml", "unit.toml is not a folder"),
    _bad("fleet folder", "folder contains no case file", setup=places),
    _bad("fleet pipe", "pipe is not a folder", setup=places),
    _bad("study unit.toml --resume", "--out"),
)  # fmt: skip

INPUT = ("is an input of this command", "never overwritten")

KEPT = (
    *(
        _bad(f"sweep unit.toml --points 3 --force --csv {name}", name.removeprefix("./"), *INPUT, setup=links)
        for name in (
            "unit.toml",
            "run.csv",
            "./run.csv",
            "hard.csv",
            "soft.csv",
            "hard.toml",
            "soft/run.csv",
            "soft/unit.toml",
        )
    ),
    *(
        _bad(f"study unit.toml --samples 8192 --force --out {name}", name, *INPUT, setup=links)
        for name in ("unit.toml", "run.csv", "hard.csv", "soft/unit.toml")
    ),
    _bad(
        "study unit.toml --samples 8192 --force --out study.json",
        "study.json.partial",
        *INPUT,
        setup=_named("study.json.partial"),
    ),
    _bad("review unit.toml --force --out .", "sweep.csv", *INPUT, setup=_named("sweep.csv")),
    _bad("window unit.toml --force --out .", "window.txt", *INPUT, setup=_named("window.txt")),
    _bad("plan unit.toml --force --out .", "plan.json", *INPUT, setup=_named("plan.json")),
    _bad("new own.toml --force", "own.toml", "never overwritten", setup=edited),
    _bad("new slip.toml --force", "slip.toml", "never overwritten", setup=edited),
    _bad("new run.csv", "run.csv already exists", "--force"),
    _bad("new unit.toml", "unit.toml already exists", "--force"),
    _bad("window unit.toml --out .", "window.txt already exists", "--force", setup=existing),
    _bad("plan unit.toml --out .", "plan.json already exists", "--force", setup=existing),
    _bad("sweep unit.toml --points 3 --csv sweep.csv", "sweep.csv already exists", "--force", setup=existing),
    _bad("study unit.toml --out study.json", "study.json already exists", "--force", setup=existing),
)

PLACES = (
    *(_bad(f"{command} ''", "name", setup=places) for command in (
        "sweep --csv", "review --out", "window --out", "plan --out", "keys --out", "study --out", "fleet . --out",
        "new")),
    *(_bad(f"sweep --points 3 --force --csv {place}", words, setup=places) for place, words in (
        ("folder", "folder is a directory"), ("pipe", "pipe is a directory or a device"), (".", "directory"),
        ("/dev/null", "/dev/null is a directory or a device"), ("plain/below.csv", "cannot write plain/below.csv"),
        ("pipe/below.csv", "cannot write pipe/below.csv"), ("/proc/none/a.csv", "cannot write /proc/none/a.csv"),
        (f"{'n' * 300}.csv", "too long"))),
    *(_bad(f"new {place} --force", words, setup=places) for place, words in (
        ("folder", "folder is a directory"), ("pipe", "pipe is a directory or a device"),
        ("/dev/full", "/dev/full is a directory or a device"), ("plain/below.toml", "cannot write plain/below.toml"),
        ("/proc/case.toml", "cannot write /proc/case.toml"))),
    *(_bad(f"plan unit.toml --force --out {place}", f"cannot write {place}", setup=places) for place in (
        "plain", "pipe", "/dev/null", "/proc/none")),
    *(_bad(f"study unit.toml --samples 8192 --force --out {place}", words, setup=places) for place, words in (
        ("pipe", "pipe is a directory or a device"), ("plain/below", "cannot write plain/below/study.json"),
        ("/dev/null", "/dev/null is a directory or a device"), ("plain/below.json", "cannot write plain/below.json"))),
    _bad("fleet . --force --out unit.toml", "cannot write unit.toml", setup=good),
)  # fmt: skip

AXES = """[speed]
unit = "rpm"
marks = [[20, 180, 0], [280, 180, 200]]
[gap]
unit = "mm"
marks = [[20, 180, 14], [20, 20, 16]]
[curve]
colour = "red"
"""
"""Of the picture that `charted` draws: a red line from corner to corner."""


def charted(folder: Path) -> None:
    """A good case, a picture of a chart, and descriptions of it: a good one and one with three marks on a line."""
    from PIL import Image, ImageDraw

    good(folder)
    picture = Image.new("RGB", (300, 200), "white")
    ImageDraw.Draw(picture).line((25, 40, 275, 160), fill="red", width=2)
    picture.save(folder / "chart.png")
    (folder / "text.png").write_text("no picture", encoding="utf-8")
    (folder / "axes.toml").write_text(AXES, encoding="utf-8")
    line = "crossings = [[10, 10, 0, 14], [20, 20, 50, 15], [30, 30, 100, 16]]\n"
    (folder / "line.toml").write_text(line + '[speed]\nunit = "rpm"\n[gap]\nunit = "mm"\n', encoding="utf-8")
    for name, old, new in (
        ("green", '"red"', '"#00ff00"'), ("bare", 'unit = "mm"', 'unit = ""'),
        ("percent", 'unit = "rpm"', 'unit = "%"'), ("mil", 'unit = "mm"\n', ""),
        ("short", "280, 180, 200", "150, 180, 100"),
    ):  # fmt: skip
        (folder / f"{name}.toml").write_text(AXES.replace(old, new), encoding="utf-8")


CHARTS = (
    _bad("digitise chart.png", "chart.png: no marks", "--page", setup=charted),
    _bad("digitise none.png axes.toml", "none.png: no such file", setup=charted),
    _bad("digitise text.png axes.toml", "text.png", "not a picture", setup=charted),
    _bad("digitise run.csv axes.toml", "run.csv", "not a picture", setup=charted),
    _bad("digitise chart.png none.toml", "none.toml: no such file", setup=charted),
    _bad("digitise chart.png chart.png", "chart.png", "not UTF-8 text", setup=charted),
    _bad("digitise chart.png unit.toml", "unit.toml", "is not known", setup=charted),
    _bad("digitise chart.png line.toml", "chart.png", "3 marks", "one straight line", setup=charted),
    _bad("digitise chart.png green.toml", "chart.png", "not found between the marks", setup=charted),
    _bad("digitise chart.png bare.toml", "[gap] has no unit", setup=charted),
    _bad("digitise chart.png mil.toml", "[gap] has no unit", setup=charted),
    _bad("digitise chart.png percent.toml", "[speed] is in per cent", "rated speed", setup=charted),
    _bad("digitise chart.png short.toml", "leaves the marked part of the speed axis", setup=charted),
    _bad("digitise chart.png axes.toml --colour red", "axes.toml", "leave", setup=charted),
    _bad("digitise chart.png --speed '10,20=5'", "[speed]", "axis points", setup=charted),
    _bad("digitise chart.png --speed '10;20 = 5 rpm'", "is not a mark", setup=charted),
    _bad("digitise chart.png --speed '10,20=5 rpm' --speed '90,20=1 rps'", "one unit for an axis", setup=charted),
    _bad("digitise chart.png axes.toml --page marks.html", "--page", "leave the rest out", setup=charted),
    _bad("digitise chart.png --page chart.png --force", "chart.png", "input", setup=charted),
    _bad("digitise chart.png axes.toml --out axes.toml --force", "axes.toml", "input", setup=charted),
    _bad("digitise chart.png axes.toml --out ''", "--out", "name", setup=charted),
    _bad("fit unit.toml chart.png", "chart.png", "rimmodel digitise", setup=charted),
    _bad("fit unit.toml run.csv --so-far --xlsx run.xlsx", "--so-far", "--xlsx"),
)


def listed(folder: Path) -> None:
    """A case whose list of key interferences has another length than the keys."""
    good(folder)
    keyed = CASE.replace(
        "[fit]", '[fit]\nkey_count = 12\nkey_width = "200 mm"\nkey_interference = ["1.5 mm", "1.6 mm"]', 1
    )
    (folder / "listed.toml").write_text(keyed, encoding="utf-8")


DECKS = (
    _bad("deck", "--out DIR", "--read DIR"),
    _bad("deck unit.toml --out decks --read decks", "--out DIR", "--read DIR"),
    _bad("deck unit.toml --out ''", "--out is given without a name"),
    _bad("deck unit.toml --read ''", "--read is given without a name"),
    _bad("deck unit.toml --read none", "axisymmetric.inp is not there", "--out"),
    _bad("deck unit.toml --read none --run", "give one of them"),
    _bad("deck unit.toml --out decks --json", "--run or --read"),
    _bad("deck unit.toml --out decks --condition warm", "no condition 'warm'"),
    *(
        _bad(f"deck unit.toml --out decks --run --time-limit {text}", "--time-limit", words)
        for text, words in (
            ("0", "1 to 86400 s"),
            ("-1", "1 to 86400 s"),
            ("nan", "1 to 86400 s"),
            ("1e9", "1 to 86400 s"),
            ("soon", "number"),
        )
    ),
    _bad("deck unit.toml --out plain", "plain is not a directory", setup=places),
    _bad("deck none.toml --out decks", "none.toml", "no such file"),
    _bad("deck listed.toml --out decks", "key_interference has 2 values", setup=listed),
)


def shimmed(folder: Path) -> None:
    """A case with a stock of shims, stocks that cannot serve, and readings of its keys with a slip each."""
    stock = next(line for line in NEW.splitlines() if line.startswith("# stock = "))[2:]
    rows = [f"{key},{1.80 + 0.01 * (key % 3):.2f}" for key in range(1, 13)]
    table = f'[shims]\n{stock}\nreading_tolerance = "0.04 mm"\n\n[speeds]'
    case = NEW.replace("# key_width", "key_width").replace("[speeds]", table, 1)
    negative = case.replace('thickness = "0.05 mm"', 'thickness = "-0.05 mm"')
    coarse = case.replace(stock, 'stock = [{ thickness = "3 mm", pieces = 40 }]')
    for name, text in (("own", case), ("negative", negative), ("coarse", coarse), ("bare", NEW)):
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    head = "key,interference [mm]"
    others = {"tight": [row.replace(",1", ",9") for row in rows], "loose": [row.replace(",1", ",0") for row in rows]}
    slips = {"keys": rows, "blind": rows[:4] + rows[5:], "uneven": [*rows, rows[0]], **others}
    for name, lines in slips.items():
        (folder / f"{name}.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")


SHIMS = (
    _bad("shims bare.toml", "no table [shims]", setup=shimmed),
    _bad("shims negative.toml", "shims.stock[1].thickness", "a shim only adds", "machining the key bar", setup=shimmed),
    _bad("shims own.toml", "12 keys and no reading", "blind", setup=shimmed),
    _bad("shims own.toml --readings blind.csv", "12 keys and readings of 11", "key 5 would be", setup=shimmed),
    _bad("shims own.toml --readings uneven.csv", "unevenly measured", "than the 2 of others", setup=shimmed),
    _bad("shims own.toml --readings tight.csv", "negative shims", "machine the key bars", setup=shimmed),
    _bad("shims coarse.toml --readings loose.csv", "no stock fits", setup=shimmed),
    _bad("shims own.toml --readings none.csv", "none.csv", "no such file", setup=shimmed),
    _bad("shims own.toml --readings keys.csv --shape keys.csv", "give one of them", setup=shimmed),
    _bad("shims own.toml --goal smooth", "'round' or 'lift-off'", setup=shimmed),
    _bad("shims own.toml --readings keys.csv --condition warm", "no condition 'warm'", setup=shimmed),
    _bad("shims own.toml --readings keys.csv --out keys.csv", "keys.csv", setup=shimmed),
    _bad("shims own.toml --shape keys.csv", "keys.csv", setup=shimmed),
)

BAD_COMMANDS = (*USAGE, *NUMBERS, *INPUTS, *KEPT, *PLACES, *CHARTS, *DECKS, *SHIMS)
