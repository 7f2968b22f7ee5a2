"""Recordings between their file and the book: claimed by one worker, read, dated, matched with flights, kept."""

from breakin.reading.claiming import ask, left_over
from breakin.reading.reader import ask_stale, read_recording

__all__ = ["ask", "ask_stale", "left_over", "read_recording"]
