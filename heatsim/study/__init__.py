"""Studies: one boat over many places, months, headings, changes and draws, run as batches and kept on disk."""

from __future__ import annotations
