"""`python -m heatsim`."""

from heatsim.cli import main

if __name__ == "__main__":  # a worker process may import this file again
    main()
