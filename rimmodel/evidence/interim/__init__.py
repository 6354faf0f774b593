"""What the part of a run that exists so far shows already, however often it is looked at."""
