"""
The door to the plant's network: HTTPS outside, the server's own plain HTTP on this machine inside.

Bytes are passed on as they are. Whose they are is told to the application by the port they come from, so that a person
who guesses passwords is locked out by the address they really have.
"""

from __future__ import annotations

import asyncio
import contextlib
import ssl
import threading
from collections.abc import Callable, Iterable
from typing import Any

HANDSHAKE_S = 15.0
AT_ONCE = 400
"""Connections held at once; beyond that a device waits."""

_CHUNK = 64 * 1024

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


class TlsFront:
    """
    Listens for HTTPS in a thread of its own and passes on what comes to a port on this machine.

    Parameters
    ----------
    host, port : str and int
        Where to listen.
    context : ssl.SSLContext
        With the certificate.
    inner_port : int
        Where the server listens at 127.0.0.1.
    """

    def __init__(self, host: str, port: int, context: ssl.SSLContext, inner_port: int) -> None:
        self._host, self._port, self._context, self._inner_port = host, port, context, inner_port
        self._whose: dict[int, str] = {}
        self._loop = asyncio.new_event_loop()
        self._server: asyncio.Server | None = None
        self._free = asyncio.Semaphore(AT_ONCE)
        self._thread = threading.Thread(target=self._loop.run_forever, name="https", daemon=True)

    @property
    def port(self) -> int:
        """The port it listens at; a free one where 0 was asked for."""
        assert self._server is not None
        return int(self._server.sockets[0].getsockname()[1])

    def open(self) -> None:
        """
        Begin to listen.

        Raises
        ------
        OSError
            The address cannot be had.
        """
        self._thread.start()
        asyncio.run_coroutine_threadsafe(self._listen(), self._loop).result()

    def close(self) -> None:
        """Stop listening, and drop what is still open."""
        asyncio.run_coroutine_threadsafe(self._end(), self._loop).result(timeout=10)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=10)
        self._loop.close()

    def telling_whose(self, application: Application) -> Application:
        """Wrap the application so that it sees the address a request really came from."""

        def told(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
            whose = self._whose.get(int(environ.get("REMOTE_PORT") or 0))
            if whose is not None:
                environ["REMOTE_ADDR"] = environ["REMOTE_HOST"] = whose
            return application(environ, start_response)

        return told

    async def _listen(self) -> None:
        self._server = await asyncio.start_server(
            self._taken, self._host, self._port, ssl=self._context, ssl_handshake_timeout=HANDSHAKE_S
        )

    async def _end(self) -> None:
        assert self._server is not None
        self._server.close()
        others = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    async def _taken(self, outside: asyncio.StreamReader, to_outside: asyncio.StreamWriter) -> None:
        async with self._free:
            try:
                inside, to_inside = await asyncio.open_connection("127.0.0.1", self._inner_port)
            except OSError:
                to_outside.close()
                return
            mine = to_inside.get_extra_info("sockname")[1]
            self._whose[mine] = to_outside.get_extra_info("peername")[0]
            passing = [
                asyncio.ensure_future(_passed(outside, to_inside)),
                asyncio.ensure_future(_passed(inside, to_outside)),
            ]
            try:
                await asyncio.wait(passing, return_when=asyncio.FIRST_COMPLETED)
            finally:
                for task in passing:
                    task.cancel()
                self._whose.pop(mine, None)
                for writer in (to_inside, to_outside):
                    writer.close()
                    with contextlib.suppress(OSError, asyncio.CancelledError):
                        await writer.wait_closed()


async def _passed(source: asyncio.StreamReader, target: asyncio.StreamWriter) -> None:
    """Pass on all that comes, until one of the two ends."""
    with contextlib.suppress(OSError):
        while chunk := await source.read(_CHUNK):
            target.write(chunk)
            await target.drain()
