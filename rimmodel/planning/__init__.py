"""What to choose and what to run: shrink window, plan of a proving run, and its virtual runs."""
