"""Measure waits (`speed`, `phone`), `memory`, errors (`judging`, `accuracy`) and what cutting saves (`stretch`)."""

import argparse

from tests.bench.accuracy import print_accuracy
from tests.bench.judging import print_judging
from tests.bench.phone import print_phone
from tests.bench.speed import print_memory, print_speed
from tests.bench.stretch import print_stretch

PARTS = ("speed", "phone", "stretch", "memory", "judging", "accuracy")


def main() -> None:
    """Run the part that was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("part", nargs="?", choices=PARTS, default="speed")
    parser.add_argument("--final", action="store_true", help="accuracy on the boards kept for the final report")
    parser.add_argument("--boards", type=int, default=2, help="boards of each kind, from 1 to 99")
    asked = parser.parse_args()
    if asked.part == "accuracy":
        print_accuracy(asked.final, min(max(asked.boards, 1), 99))
    elif asked.part == "judging":
        print_judging()
    elif asked.part == "phone":
        print_phone()
    elif asked.part == "stretch":
        print_stretch(min(max(asked.boards, 1), 99))
    elif asked.part == "memory":
        print_memory()
    else:
        print_speed()


if __name__ == "__main__":
    main()
