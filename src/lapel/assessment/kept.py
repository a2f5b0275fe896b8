"""What was worked for one state of a survey, kept for the next: nothing is worked twice from the same records."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Any, Generic, TypeVar

from lapel.assessment.inputs import Survey
from lapel.assessment.results import MixtureResult, ShiftResult, ShortTermResult
from lapel.assessment.samples import Samples
from lapel.fieldlog.state import Day
from lapel.hygiene.rulebook import RuleBook

Result = TypeVar("Result")


class Kept(Generic[Result]):
    """Results by what they are of, each with the very objects it was worked from."""

    def __init__(self) -> None:
        self._before: dict[Hashable, tuple[tuple[Any, ...], Result]] = {}
        self._now: dict[Hashable, tuple[tuple[Any, ...], Result]] = {}

    def of(self, what: Hashable, worked_from: tuple[Any, ...], work: Callable[[], Result]) -> Result:
        """Return the result worked from these objects, each the same one as before; else work it."""
        known = self._before.get(what)
        if known is None or not _same_objects(known[0], worked_from):
            known = (worked_from, work())
        self._now[what] = known
        return known[1]

    def forget_others(self) -> None:
        """Let go of what was not asked for since the last time."""
        self._before, self._now = self._now, {}


class KeptWork:
    """
    Everything worked for a survey under its rule books.

    A sample rests on its order, its run in the log with the preparations, the readings with their meters and air, the
    laboratory's rows, the blanks of its batch, the limits of its agents and what was lifted by a person; a shift on its
    samples and limits; a mixture on its shifts. Each is compared with what it rested on before, not told of changes.
    """

    def __init__(self) -> None:
        self.samples: Samples | None = None
        self._start_anew()

    def samples_of(self, survey: Survey, day: Day, book: RuleBook, compared: Sequence[RuleBook]) -> Samples:
        """Return the samples of a state of the survey, to be asked for, each going on from what was kept of it."""
        if self.samples is not None and not self.samples.goes_on_in(survey, book, compared):
            self.samples = None
            self._start_anew()
        self.samples = Samples(survey, day, book, compared, kept=True, earlier=self.samples)
        return self.samples

    def _start_anew(self) -> None:
        self.shifts: Kept[ShiftResult] = Kept()
        self.short_terms: Kept[ShortTermResult] = Kept()
        self.mixtures: Kept[list[MixtureResult]] = Kept()


def _same_objects(before: tuple[Any, ...], now: tuple[Any, ...]) -> bool:
    return len(before) == len(now) and all(one is other for one, other in zip(before, now, strict=True))
