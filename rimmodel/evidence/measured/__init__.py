"""What a recording shows of the machine, with everything that is not known."""
