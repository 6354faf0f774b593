"""A rotor once more, by a general finite-element program that knows nothing of our formulas.

The decks are text, complete and commented; the program reads them without us.
"""
