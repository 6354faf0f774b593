"""``python -m rimmodel.cli``."""

from rimmodel.cli import main

main()
