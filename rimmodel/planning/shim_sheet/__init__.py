"""Which pieces of the stock to fit behind each key, how near that is to the best, and what it promises."""
