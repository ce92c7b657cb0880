"""`python -m heatsim`."""

from heatsim.cli import main

main()
