"""Settings that must stand before numpy is loaded, for every process of the tests and those that they start."""

import os
import sys

# the matrices of a fit are small: with threads of linear algebra they take six times the processor time
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# where nothing that is compiled is kept, every process that a test starts compiles the whole library again
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
