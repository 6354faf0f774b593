"""The modelled rotor fitted to recorded gaps."""
