"""Random machines by the library and by finite elements: `python -m tests.benchmarks.second_opinion [COUNT] [UNEVEN]`.

Prints for each machine the largest difference of the table that ``rimmodel deck --run`` prints, where it is, and its
reason from 0.5 % on. A run of 30 takes five to ten minutes; the machines are invented and seeded.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from rimmodel.second_opinion.compare import compare
from rimmodel.second_opinion.decks import Decks
from tests.second_opinion.random_machines import machine


def compared(number: int, uneven: bool = False):
    """Words of a machine, and its comparison."""
    words, rotor, condition = machine(number, uneven)
    decks = Decks(rotor, condition, words)
    with tempfile.TemporaryDirectory() as folder:
        for file, text in decks.texts.items():
            Path(folder, file).write_text(text)
        return words, compare(decks, decks.run(Path(folder)))


def main(count: int, uneven: int) -> None:
    """One line for each machine, and how many stay within 1 %."""
    within = total = 0
    for number, keyed in [(n, False) for n in range(count)] + [(n, True) for n in range(uneven)]:
        words, found = compared(number, keyed)
        worst, total = found.largest, total + 1
        within += worst <= 1.0
        at = max(found.rows, key=lambda row: abs(row.difference or 0.0))
        place = f"{at.deck}, {at.what}; {len(found.findings)} not explained"
        print(f"{words:34s} {len(found.rows):3d} rows, largest {worst:5.2f} %: {place}", flush=True)
        if at.reason:
            print(f"    {at.reason}", flush=True)
    print(f"{within} of {total} within 1 %")


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["30", "3"][len(sys.argv) - 1 :])))
