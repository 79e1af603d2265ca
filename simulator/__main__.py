"""`python -m simulator` does what the installed command does."""

from __future__ import annotations

from simulator.cli.app import main

if __name__ == "__main__":
    main()
