"""Runs stopped by a signal: what stood before stays whole, and what was done is kept."""

import json
import os
import signal
import subprocess
import sys

import pytest

import rimmodel as rm
from rimmodel.rotor.case.case import EXAMPLES

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of this kind are POSIX")

INTERRUPTED = """
import sys, time
import rimmodel as rm
from rimmodel.verdict.output.study import text as study_text
from rimmodel.verdict.tolerance_study import run_study

if __name__ == "__main__":
    def told(done, of):
        print(done, file=sys.stderr, flush=True)
        time.sleep(0.1)

    print(study_text(run_study(rm.example_case(), 2**22, chunk=8192, workers=2, out=sys.argv[1], progress=told)))
"""


def test_ctrl_c_among_processes_keeps_the_partial_result_and_says_so(tmp_path):
    script, out = tmp_path / "script.py", tmp_path / "study.json"
    script.write_text(INTERRUPTED, encoding="utf-8")
    # a group of its own, so that Ctrl-C reaches the workers as it does in a terminal
    with subprocess.Popen(
        [sys.executable, str(script), str(out)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    ) as process:  # fmt: skip
        for line in process.stderr:
            if int(line) >= 3 * 8192:
                os.killpg(process.pid, signal.SIGINT)
                break
        said, complaints = process.communicate(timeout=60)
    assert process.returncode == 0
    assert "Traceback" not in complaints
    assert "of 4194304 samples; they are stored in" in said
    assert not out.exists()
    partial = json.loads((tmp_path / "study.json.partial").read_text(encoding="utf-8"))
    assert partial["result"]["samples"] == len(partial["state"]["sums"]) * 8192 >= 3 * 8192


KILLED = """
import os, signal, sys
from pathlib import Path
import rimmodel as rm

def killed(self, target):
    os.kill(os.getpid(), signal.SIGKILL)

review = rm.review(rm.read_case(sys.argv[2]))
Path.replace = killed
review.write(sys.argv[1], overwrite=True)
"""


def test_a_report_killed_while_it_is_written_leaves_the_one_before_whole(tmp_path):
    case = EXAMPLES / "new_case.toml"
    written = rm.review(rm.read_case(case)).write(tmp_path)
    before = {path: path.read_bytes() for path in written}
    done = subprocess.run([sys.executable, "-c", KILLED, str(tmp_path), str(case)], check=False, capture_output=True)
    assert done.returncode == -signal.SIGKILL
    assert {path: path.read_bytes() for path in written} == before
