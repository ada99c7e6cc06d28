"""`python -m tests.bench` times each wait of a person; `memory` prints the peak memory of one reading."""

import argparse

from tests.bench.speed import print_memory, print_speed

PARTS = {"speed": print_speed, "memory": print_memory}


def main() -> None:
    """Run the part that was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("part", nargs="?", choices=PARTS, default="speed")
    PARTS[parser.parse_args().part]()


if __name__ == "__main__":
    main()
