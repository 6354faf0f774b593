"""Every number of this project that can be held against something outside it, one file per source or method.

``python -m validation`` prints the table; ``--out DIR`` also writes it. To add a check, return one more `Check`
from the ``checks()`` of the file of its source; to add a source, add a file with a ``checks()``: it is found
by itself, here and in the tests.
"""
