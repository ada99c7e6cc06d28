"""Draw the demo boards again: `python -m tests.drawing FOLDER`."""

import sys
from pathlib import Path

from tests.drawing.demo import DEMOS, write_demo


def main() -> int:
    """Write every demo board into its own folder below the one named."""
    if len(sys.argv) != 2:
        sys.stderr.write("usage: python -m tests.drawing FOLDER\n")
        return 2
    for demo in DEMOS:
        size = write_demo(demo, Path(sys.argv[1]) / demo.folder)
        sys.stdout.write(f"{demo.name}: {size / 1e6:.2f} MB\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
