"""Results on paper, on screen and in files."""
