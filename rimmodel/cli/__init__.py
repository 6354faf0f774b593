"""The command line: parse, call, print. Results go to stdout, messages to stderr."""

from rimmodel.cli import case_files, judging, predicting
from rimmodel.cli.program import app, main

__all__ = ["app", "case_files", "judging", "main", "predicting"]
