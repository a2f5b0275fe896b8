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
from itertools import islice
from multiprocessing import get_context
from types import TracebackType
from typing import Any, Protocol, Self, TypeVar

__all__ = ["Crew", "map_chunks"]

Chunk = TypeVar("Chunk")
Answer = TypeVar("Answer")

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
_AHEAD = 2  # chunks handed to each process beside this one: the one it works on and the next
_HELD = 8  # answers for each process that may wait for an earlier chunk's


class _Submits(Protocol):
    """What is asked of an executor: a process pool and a cluster client both have it."""

    def submit(self, function: Callable[..., Any], /, *arguments: Any) -> Any: ...


class Crew:
    """
    Processes that are started once and work for many calls: this one with others beside it, or those of a cluster.

    Parameters
    ----------
    workers : int, at least 1
        Processes on this machine, this one counted: ``Crew(2)`` starts one more.
    scheduler : str, optional
        Address of a Dask scheduler, as in "tcp://10.0.0.5:8786"; `workers` then does not count. Needs the extra
        ``lapel[cluster]``.

    Raises
    ------
    ValueError
        `workers` is below 1.
    ModuleNotFoundError
        `scheduler` is given and ``distributed`` is not installed.

    Notes
    -----
    The processes start at once and get ready while the caller does something else, such as reading the groups; until
    they are ready this process does the work alone. They are spawned, never forked, and have one linear-algebra
    thread each. A process that dies raises BrokenProcessPool at the next answer, and its crew is of no more use; a
    cluster gives the chunk to another worker. A script that makes a crew must do so under
    ``if __name__ == "__main__":``, as with every spawned process.

    Examples
    --------
    ::

        with Crew(2) as crew:
            for survey in surveys:
                for answer in bulk_posteriors(survey, question, workers=crew):
                    ...
    """

    def __init__(self, workers: int = 2, *, scheduler: str | None = None) -> None:
        if workers < 1:
            raise ValueError(f"`workers` must be at least 1; it is {workers}")
        self._beside = 0 if scheduler is not None else workers - 1
        self._client: Any = None if scheduler is None else _client_of(scheduler)
        self._pool: ProcessPoolExecutor | None = None
        self._starting: list[Future[None]] = []
        if self._beside:
            with _one_thread_each():
                self._pool = ProcessPoolExecutor(self._beside, mp_context=get_context("spawn"))
                self._starting = [self._pool.submit(_be_ready) for _ in range(self._beside)]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let the processes end; chunks nobody has begun are dropped."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
        if self._client is not None:
            self._client.close()

    def wait_until_ready(self) -> None:
        """Wait for every process to have started and imported what it needs; for measurements."""
        for start in self._starting:
            start.result()

    def map(self, function: Callable[[Chunk], Answer], chunks: Iterable[Chunk]) -> Iterator[Answer]:
        """Answers of `function` to `chunks`, in the order of the chunks; see `map_chunks`."""
        if self._client is not None:
            slots = max(1, sum(self._client.ncores().values()))
            return _in_order(_Pure(self._client), function, chunks, ahead=2 * slots)
        if self._pool is None:
            return map(function, chunks)
        return self._share(self._pool, function, chunks)

    def _are_ready(self) -> bool:
        if not all(start.done() for start in self._starting):
            return False
        self.wait_until_ready()  # raises, if one of them died
        self._starting.clear()
        return True

    def _share(
        self, pool: ProcessPoolExecutor, function: Callable[[Chunk], Answer], chunks: Iterable[Chunk]
    ) -> Iterator[Answer]:
        """Keep the others supplied; work here on what is next; hand out what is done, in order."""
        source = iter(chunks)
        waiting: deque[Future[Answer]] = deque()
        try:
            while True:
                while waiting and waiting[0].done():
                    yield waiting.popleft().result()
                drawn = list(islice(source, 1)) if len(waiting) < _HELD * (self._beside + 1) else []
                if drawn:
                    busy = sum(not future.done() for future in waiting)
                    for_others = busy < _AHEAD * self._beside and self._are_ready()
                    waiting.append(pool.submit(function, *drawn) if for_others else _done_here(function, *drawn))
                elif waiting:
                    yield waiting.popleft().result()
                else:
                    return
        finally:
            for future in waiting:
                future.cancel()


def map_chunks(
    function: Callable[[Chunk], Answer],
    chunks: Iterable[Chunk],
    *,
    workers: int | Crew = 1,
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
    workers : int, at least 1, or Crew
        Processes on this machine, this one counted; 1 works here, without any. They are started for this call and
        ended after it; a `Crew` stays for the next.
    scheduler : str, optional
        Address of a Dask scheduler, as in "tcp://10.0.0.5:8786". Needs the extra ``lapel[cluster]``.

    Yields
    ------
    object
        The answer to each chunk.

    Raises
    ------
    ValueError
        `workers` is below 1, or a scheduler is given beside a crew.
    ModuleNotFoundError
        `scheduler` is given and ``distributed`` is not installed.

    Notes
    -----
    See `Crew` for how the processes start and what happens when one dies.
    """
    if isinstance(workers, Crew):
        if scheduler is not None:
            raise ValueError("`scheduler` must be left out when `workers` is a crew: give it to the crew")
        yield from workers.map(function, chunks)
    else:
        with Crew(workers, scheduler=scheduler) as crew:
            yield from crew.map(function, chunks)


def _be_ready() -> None:
    """Nothing: to be found, it makes its process import the whole room, which is most of what starting takes."""


def _done_here(function: Callable[[Chunk], Answer], chunk: Chunk) -> Future[Answer]:
    answer: Future[Answer] = Future()
    answer.set_result(function(chunk))
    return answer


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


def _client_of(scheduler: str) -> Any:
    try:
        from distributed import Client
    except ModuleNotFoundError as problem:
        raise ModuleNotFoundError(
            "`scheduler` needs the package `distributed`: install lapel with its extra, lapel[cluster]"
        ) from problem
    return Client(scheduler)  # type: ignore[no-untyped-call]


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
