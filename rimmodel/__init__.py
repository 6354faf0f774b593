"""Float speed, shrink fit and air gap of hydro-generator rotor rims."""
