"""What several runs of one machine, or several sister machines, say together."""
