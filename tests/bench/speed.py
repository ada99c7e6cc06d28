"""How long a person waits, as ratios in one run, and the memory a reader needs.

Milliseconds depend on the machine; a ratio to the decoding of the same photo does not. Targets stand
beside what was measured; nothing here fails a test.
"""

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from service.board.assemble import board_grid
from service.checking import check
from service.demo import demo_boards
from service.judge.judge import judge
from service.photo.decode import open_photo
from service.reading import Wish, read_board
from service.settings import find_folder
from service.sides import SIDES, BoardSize
from service.sight import see_close, see_end, see_side
from service.upload import Upload
from tests.drawing import Scene, photograph, random_parts, random_solid
from tests.judge.made import make_reading

REPEATS = 7


def seconds(wait: Callable[[], object], repeats: int = REPEATS) -> float:
    """Return the least time of a wait over several runs: what the work costs when nothing disturbs it."""
    wait()
    taken = []
    for _ in range(repeats):
        began = time.perf_counter()
        wait()
        taken.append(time.perf_counter() - began)
    return float(np.min(taken))


def line(name: str, taken: float, decode: float, target: str) -> None:
    """Print one wait."""
    print(f"{name:52s} {taken * 1000:8.1f} ms {taken / decode:7.2f} x decode   {target}", flush=True)


def sixteen_parts() -> Wish:
    """Draw a made-up board's four sides in four overlapping photos each, as a phone takes them."""
    solid = random_solid(1)
    size = BoardSize(solid.length_mm, solid.width_mm, solid.thickness_mm)
    photos = {}
    for number, side in enumerate(SIDES):
        shots = [
            photograph(solid, side, camera, Scene(seed=10 * number + shot, place=number))[0]
            for shot, camera in enumerate(random_parts(number, solid, 4))
        ]
        photos[side] = tuple(Upload(f"{side}_{shot}.jpg", data) for shot, data in enumerate(shots, 1))
    return Wish(size, 0.8 * size.length_mm, photos)


def memory_mb() -> float:
    """Return the most memory that a fresh process took to read a whole board with all its photos."""
    command = [sys.executable, "-m", "tests.bench", "memory"]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def print_memory() -> None:
    """Read a whole board in this process and print the most memory it took, in megabytes."""
    read_board(demo_boards(find_folder("demo_photos"))[0].wish)
    # Not getrusage: its maximum is inherited from the process that started this one.
    told = Path("/proc/self/status").read_text(encoding="ascii")
    print(next(int(line.split()[1]) / 1024 for line in told.splitlines() if line.startswith("VmHWM")))


def print_speed() -> None:
    """Print the table of waits."""
    wish = demo_boards(find_folder("demo_photos"))[0].wish
    size, grid_mm = wish.size, board_grid(wish.size.length_mm)
    photos = {side: wish.photos[side][0] for side in SIDES}
    decode = float(np.mean([seconds(lambda p=photo: open_photo(p.data, p.name)) for photo in photos.values()]))  # type: ignore[misc]
    rows, cols = open_photo(photos["face_1"].data, "face_1").luma.shape
    line(f"decode a photo of {rows * cols / 1e6:.0f} megapixels", decode, decode, "")
    for side in ("face_1", "edge_1"):
        asked = (photos[side], size.length_mm, (size.across_mm(side),))
        line(f"check one photo: {side}", seconds(lambda a=asked: check(*a)), decode, "target 0.6 x")  # type: ignore[misc]
    for side in ("face_1", "edge_1"):
        across_mm = size.across_mm(side)
        taken = seconds(lambda s=side, a=across_mm: see_side((photos[s],), size.length_mm, a, grid_mm))  # type: ignore[misc]
        line(f"read one side, its decoding included: {side}", taken, decode, "target 2 x")
    only = Wish(size, wish.bow_length_mm, wish.photos)
    line("read a board from four photos, two at a time", seconds(lambda: read_board(only)), decode, "target 600 ms")
    close = wish.closeups["face_1"][0]
    line("read a close-up", seconds(lambda: see_close(close, size.width_mm)), decode, "")
    if wish.end is not None:
        end = wish.end
        line("read the end", seconds(lambda: see_end(end, size.width_mm, size.thickness_mm)), decode, "")
    line("read it with two close-ups and the end", seconds(lambda: read_board(wish)), decode, "")
    sixteen = sixteen_parts()
    line("read a board from sixteen part photos", seconds(lambda: read_board(sixteen), 2), decode, "target 2500 ms")
    reading = make_reading()
    line("judge a board", seconds(lambda: judge(reading, wish.bow_length_mm)), decode, "target 20 ms")
    print(f"{'peak memory of a fresh process, whole board':52s} {memory_mb():8.0f} MB   target 300 MB")
