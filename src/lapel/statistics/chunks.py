"""The same work over many chunks: here, on several processors, or on a cluster.

One interface, `map_chunks(function, chunks)`, for all three. Chunks are drawn from their iterator only as fast as
they are worked off, so that memory stays bounded however long the iterator is.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from typing import Any, Protocol, TypeVar

__all__ = ["map_chunks"]

Chunk = TypeVar("Chunk")
Answer = TypeVar("Answer")

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


class _Submits(Protocol):
    """What is asked of an executor: a process pool and a cluster client both have it."""

    def submit(self, function: Callable[..., Any], /, *arguments: Any) -> Any: ...


def map_chunks(
    function: Callable[[Chunk], Answer],
    chunks: Iterable[Chunk],
    *,
    workers: int = 1,
    scheduler: str | None = None,
) -> Iterator[Answer]:
    """
    Answers of a function to many chunks, in the order of the chunks.

    Parameters
    ----------
    function : callable
        Of one chunk; importable by name when it runs elsewhere.
    chunks : iterable
        Drawn lazily, a few ahead of the answers.
    workers : int, at least 1
        Processes on this machine; 1 works here, without any.
    scheduler : str, optional
        Address of a Dask scheduler, as in "tcp://10.0.0.5:8786". Needs the extra ``lapel[cluster]``.

    Yields
    ------
    object
        The answer to each chunk.

    Raises
    ------
    ValueError
        `workers` is below 1.
    ModuleNotFoundError
        `scheduler` is given and ``distributed`` is not installed.

    Notes
    -----
    Processes are spawned, never forked, and have one linear-algebra thread each. A process that dies raises
    BrokenProcessPool at once; a cluster gives the chunk to another worker.
    """
    if workers < 1:
        raise ValueError(f"`workers` must be at least 1; it is {workers}")
    if scheduler is not None:
        yield from _on_a_cluster(function, chunks, scheduler)
    elif workers == 1:
        yield from map(function, chunks)
    else:
        with _one_thread_each(), ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            yield from _in_order(pool, function, chunks, ahead=2 * workers)


def _in_order(
    executor: _Submits, function: Callable[[Chunk], Answer], chunks: Iterable[Chunk], ahead: int
) -> Iterator[Answer]:
    waiting: deque[Future[Answer]] = deque()
    try:
        for chunk in chunks:
            waiting.append(executor.submit(function, chunk))
            if len(waiting) > ahead:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()


def _on_a_cluster(function: Callable[[Chunk], Answer], chunks: Iterable[Chunk], scheduler: str) -> Iterator[Answer]:
    try:
        from distributed import Client
    except ModuleNotFoundError as problem:
        raise ModuleNotFoundError(
            "`scheduler` needs the package `distributed`: install lapel with its extra, lapel[cluster]"
        ) from problem
    with Client(scheduler) as client:  # type: ignore[no-untyped-call]
        slots = max(1, sum(client.ncores().values()))
        yield from _in_order(_Pure(client), function, chunks, ahead=2 * slots)


class _Pure:
    """A cluster's client that never mistakes two chunks for one."""

    def __init__(self, client: Any) -> None:
        self._client = client

    def submit(self, function: Callable[..., Any], /, *arguments: Any) -> Any:
        return self._client.submit(function, *arguments, pure=False)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes spawned inside inherit one linear-algebra thread each."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
