"""The start screen as a program of its own, for the server: python -m coach.screen [--us] [--jobs DIR]."""

import argparse
from pathlib import Path


def main() -> None:
    """Open the start."""
    parser = argparse.ArgumentParser(prog="python -m coach.screen")
    parser.add_argument("--us", action="store_true", help="miles and Fahrenheit")
    parser.add_argument("--jobs", type=Path, metavar="DIR", help="where the drives are kept")
    arguments = parser.parse_args()
    from coach.screen.app import run_start

    run_start(us=arguments.us, folder=arguments.jobs)


if __name__ == "__main__":
    main()
