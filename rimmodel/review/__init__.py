"""Claim against prediction against evidence."""
