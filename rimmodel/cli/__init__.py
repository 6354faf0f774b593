"""The command line: parse, call, print. Results go to stdout, messages to stderr."""

from rimmodel.cli import case_files, judging, letters, planning, predicting, studies
from rimmodel.cli.program import app, main

__all__ = ["app", "case_files", "judging", "letters", "main", "planning", "predicting", "studies"]
