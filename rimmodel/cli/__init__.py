"""The command line: parse, call, print. Results go to stdout, messages to stderr."""

try:
    from rimmodel.cli import (
        case_files,
        charts,
        duty,
        heating,
        judging,
        least_gap,
        letters,
        planning,
        predicting,
        second_opinions,
        shims,
        studies,
    )
    from rimmodel.cli.program import app, main
except KeyboardInterrupt:  # Ctrl-C while the program still loads
    raise SystemExit(130) from None

__all__ = [
    "app",
    "case_files",
    "charts",
    "duty",
    "heating",
    "judging",
    "least_gap",
    "letters",
    "main",
    "planning",
    "predicting",
    "second_opinions",
    "shims",
    "studies",
]
