"""The rotor under uncertain inputs: samples in, distributions and causes out."""
