"""The gap all round: shapes of rotor and bore, centre and net pull, and the least gap that they leave."""
