"""How right the program is: strips against the best that noise allows, boards against the solids they show.

Nothing is timed and nothing fails. `--final` draws from seeds that nothing was developed on; run it for a
report, not while working on what it measures.
"""

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from typing import Final

from tests.bench.solids import print_solids
from tests.bench.strips import print_strips
from tests.bench.troubles import print_troubles

#: The first seed of a run in development, and of the final one.
SEED, FINAL_SEED = 601, 901
#: Processes that draw and read; each holds a few hundred megabytes.
AT_ONCE: Final = 2


def print_accuracy(final: bool, boards: int) -> None:
    """Print all tables, from this many boards of each kind and each kind of photos."""
    seed = FINAL_SEED if final else SEED
    with ProcessPoolExecutor(AT_ONCE, multiprocessing.get_context("spawn")) as pool:
        print_strips(pool, seed)
        print()
        print_troubles(pool, seed)
        print()
        print_solids(pool, range(seed, seed + boards))
