"""The version, stated here and nowhere else: the build, the command line and every result read it from this file."""

VERSION = "0.2.0"
