"""Inputs that must be refused, each with the words that its one message must hold, and odd ones that must be read."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BadRecording:
    """A recording file that cannot be read: its fault in short, its name and bytes, and words of the message."""

    name: str
    file_name: str
    content: bytes
    words: tuple[str, ...]


@dataclass(frozen=True)
class LegalRecording:
    """An unusual recording that must be read: speeds in rad/s and gaps in m, in file order, worked out by hand."""

    name: str
    file_name: str
    content: bytes
    speed: tuple[float, ...]
    gap: tuple[float, ...]
    notes: tuple[str, ...] = ()
    """Words that must stand in the notes."""
