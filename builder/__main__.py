"""Runs the commands: `python -m builder COMMAND`."""

import gc
import sys

from builder.cli import main

if __name__ == "__main__":  # not in the processes that a build starts
    gc.set_threshold(100_000, 50, 50)  # a fifth of a build went on searching lasting objects for dead ones
    status = main()
    gc.freeze()  # nor on the way out
    sys.exit(status)
