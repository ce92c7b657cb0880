"""Memory of a worker: chunk after chunk takes arrays of the same sizes."""

from __future__ import annotations

import ctypes
from contextlib import suppress

TRIM_THRESHOLD, MMAP_MAX = -1, -4
"""Names of the settings (malloc.h of the GNU C library)."""
NEVER = 2**31 - 1


def keep_freed() -> None:
    """Let freed arrays be kept for the next ones, where the C library can: to give every page back and ask for it again
    takes a fifth of the steps' time in weather years, a tenth of all (measured).
    """
    with suppress(OSError, TypeError, AttributeError):
        library = ctypes.CDLL(None)
        library.mallopt(MMAP_MAX, 0)
        library.mallopt(TRIM_THRESHOLD, NEVER)
