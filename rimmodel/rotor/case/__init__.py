"""The case file: read, checked, and held against the drawing."""
