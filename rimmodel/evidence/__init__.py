"""What a test run shows: recordings, speed points, the knee."""
