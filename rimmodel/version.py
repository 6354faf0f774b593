"""The version, stated here and nowhere else: the build, the command line and every result read it from this file."""

__version__ = "0.2.0"
