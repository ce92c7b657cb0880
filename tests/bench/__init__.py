"""Speed and memory, measured on an idle machine: `python -m tests.bench`."""
