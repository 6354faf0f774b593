"""From the measured shape of the rotor back to its shims."""
