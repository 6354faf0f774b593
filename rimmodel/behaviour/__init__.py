"""How the rotor behaves as it turns: contact, gap, landmarks."""
