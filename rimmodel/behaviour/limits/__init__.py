"""Checks of the machine against its limits."""
