"""Reading a recording: what the file is, what its columns mean, what is refused and what is left out."""
