"""The machine as frozen inputs: what is stored, not what is computed."""
