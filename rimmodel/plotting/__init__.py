"""Every figure; matplotlib is imported only when one is drawn."""
