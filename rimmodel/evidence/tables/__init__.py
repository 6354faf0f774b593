"""Tables as loggers and spreadsheets write them, brought into the long form in which a recording is read."""
