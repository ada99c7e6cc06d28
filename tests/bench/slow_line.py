"""A slow line between a browser and a server: limited bytes a second each way, and a delay."""

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Final

CHUNK_BYTES: Final = 4096
"""Taken from the sender at once; a phone's packets are a third of it, but fewer steps cost the machine less."""


@dataclass
class Way:
    """One direction of the line, shared by all connections.

    Attributes
    ----------
    bits_per_s, delay_s
        How much passes, and how long each byte is on its way.
    carried
        Bytes that went through.
    """

    bits_per_s: float
    delay_s: float
    carried: int = 0
    free_at_s: float = field(default=0.0, repr=False)

    def take(self, now_s: float, size: int) -> float:
        """Send some bytes after those before them; return when the last of them has left.

        >>> way = Way(8000.0, 0.1)
        >>> way.take(5.0, 1000), way.take(5.0, 500), way.carried
        (6.0, 6.5, 1500)
        """
        self.free_at_s = max(now_s, self.free_at_s) + 8 * size / self.bits_per_s
        self.carried += size
        return self.free_at_s


@dataclass
class SlowLine:
    """The line: `up` from the browser, `down` to it, and the port that the browser calls."""

    up: Way
    down: Way
    port: int = 0


@contextmanager
def slow_line(to_port: int, up_bits_per_s: float, down_bits_per_s: float, round_trip_s: float) -> Iterator[SlowLine]:
    """Open a slow line to a port of this machine for as long as it is used."""
    line = SlowLine(Way(up_bits_per_s, round_trip_s / 2), Way(down_bits_per_s, round_trip_s / 2))
    loop = asyncio.new_event_loop()

    async def accept(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(asyncio.CancelledError):  # the line is closed
            await asyncio.sleep(round_trip_s)  # what shaking hands costs
            there_reader, there_writer = await asyncio.open_connection("127.0.0.1", to_port)
            await asyncio.gather(_carry(reader, there_writer, line.up), _carry(there_reader, writer, line.down))

    async def open_port() -> int:
        server = await asyncio.start_server(accept, "127.0.0.1", 0)
        return int(server.sockets[0].getsockname()[1])

    line.port = loop.run_until_complete(open_port())
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    try:
        yield line
    finally:
        asyncio.run_coroutine_threadsafe(_hang_up(), loop).result()
        loop.call_soon_threadsafe(loop.stop)
        thread.join()


async def _hang_up() -> None:
    """End what is still on its way."""
    tasks = asyncio.all_tasks() - {asyncio.current_task()}
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def _carry(reader: asyncio.StreamReader, writer: asyncio.StreamWriter, way: Way) -> None:
    """Carry one direction of a connection until it ends."""
    on_way: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue()
    giving = asyncio.create_task(_give(on_way, writer))
    clock = asyncio.get_running_loop().time
    try:
        while chunk := await reader.read(CHUNK_BYTES):
            left_s = way.take(clock(), len(chunk))
            on_way.put_nowait((left_s + way.delay_s, chunk))
            await asyncio.sleep(left_s - clock())  # no more is taken from the sender than has left
    except ConnectionError:
        pass
    on_way.put_nowait((clock() + way.delay_s, b""))
    await giving


async def _give(on_way: asyncio.Queue[tuple[float, bytes]], writer: asyncio.StreamWriter) -> None:
    """Hand over what has arrived."""
    clock = asyncio.get_running_loop().time
    try:
        while True:
            arrives_s, chunk = await on_way.get()
            await asyncio.sleep(arrives_s - clock())
            if not chunk:
                break
            writer.write(chunk)
            await writer.drain()
    except ConnectionError:
        pass
    finally:
        writer.close()
