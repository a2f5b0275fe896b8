"""Blanks and parcels: what was opened when, what was packed with what, and through whose hands it went."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from lapel.fieldlog.checks import codes_in, yes_or_no
from lapel.fieldlog.conflicts import recorded_twice
from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import Findings
from lapel.fieldlog.runs import minutes_between
from lapel.fieldlog.state import BlankRun, Conflict, CustodyGap, CustodyHop, Parcel, Remark
from lapel.said import said


@dataclass(slots=True)
class BlankLog:
    """A blank while the log goes on."""

    blank: str
    opened: Act | None = None
    closed: Act | None = None
    entry_ids: dict[str, None] = field(default_factory=dict)

    def open(self, act: Act, findings: Findings) -> None:
        """Open the blank; twice is one act by two people, or one too many."""
        self.entry_ids[act.id] = None
        if self.opened is None:
            self.opened = act
        else:
            findings.conflicts.append(_repeated(self.opened, act, self.blank, findings))

    def close(self, act: Act, findings: Findings) -> None:
        """Close the blank."""
        self.entry_ids[act.id] = None
        if self.closed is None:
            self.closed = act
        else:
            findings.conflicts.append(_repeated(self.closed, act, self.blank, findings))
        if self.opened is None:
            words = said("Blank {blank} was closed, and its opening is not recorded before it.", blank=self.blank)
            findings.remarks.append(Remark("closed before opened", (act.id,), words, samplers=(self.blank,)))

    def frozen(self, conflicts: tuple[Conflict, ...], parcel: str) -> BlankRun:
        """Return it as plain data."""
        opened_at, closed_at = (one.at if one else None for one in (self.opened, self.closed))
        value = self.opened.value if self.opened else _nothing
        return BlankRun(
            blank=self.blank,
            use=value("use") or "field",
            medium=value("medium"),
            lot=value("lot"),
            place=value("place"),
            opened_at=opened_at,
            closed_at=closed_at,
            open_min=_open_min(opened_at, closed_at),
            conflicts=conflicts,
            parcel=parcel,
            entry_ids=tuple(self.entry_ids),
        )


@dataclass(slots=True)
class ParcelLog:
    """A parcel while the log goes on."""

    code: str
    sealing: Act | None = None
    samplers: tuple[str, ...] = ()
    hops: list[CustodyHop] = field(default_factory=list)

    def seal(self, act: Act, findings: Findings) -> bool:
        """Seal the parcel; return whether this is its first sealing."""
        if self.sealing is None:
            self.sealing = act
            self.samplers = codes_in(act.value("samplers"))
            if self.hops:
                words = said("Parcel {parcel} was handed on before it was sealed.", parcel=self.code)
                findings.remarks.append(Remark("handed on before sealed", (self.hops[0].entry_id, act.id), words))
            return True
        added = tuple(code for code in codes_in(act.value("samplers")) if code not in self.samplers)
        findings.conflicts.append(_repeated(self.sealing, act, "", findings, self.samplers + added))
        return False

    def hand(self, act: Act) -> None:
        """Hand the parcel on."""
        get = act.value
        self.hops.append(
            CustodyHop(
                act.id, act.at, get("from"), get("to"), yes_or_no(get("seal_intact")), get("temperature"),
                get("temperature_unit"),
            )
        )  # fmt: skip

    def frozen(self, conflicts: tuple[Conflict, ...]) -> Parcel:
        """Return it as plain data."""
        seen = [hop.seal_intact for hop in self.hops if hop.seal_intact is not None]
        sealing = self.sealing
        value = sealing.value if sealing else _nothing
        return Parcel(
            code=self.code,
            samplers=self.samplers,
            seal=value("seal"),
            sealed_at=sealing.at if sealing else None,
            sealed_by=sealing.author if sealing else "",
            temperature=value("temperature"),
            temperature_unit=value("temperature_unit"),
            hops=tuple(self.hops),
            gaps=tuple(self._gaps()),
            seal_broken=not all(seen) if seen else None,
            conflicts=conflicts,
        )

    def _gaps(self) -> list[CustodyGap]:
        """Find the hand-overs whose giver is not the one who took the parcel before."""
        gaps = []
        for before, after in zip(self.hops, self.hops[1:], strict=False):
            if before.receiver.casefold() != after.giver.casefold():
                hours = minutes_between(before.at, after.at) / 60.0
                gaps.append(CustodyGap(before.at, after.at, hours, before.receiver, after.giver))
        return gaps


def _repeated(first: Act, act: Act, blank: str, findings: Findings, samplers: tuple[str, ...] = ()) -> Conflict:
    named = samplers or (blank,)
    if first.device != act.device and not findings.are_distinct(first, act):
        return recorded_twice([first, act], named)
    words = said(
        "{kind} of {subject} is recorded in {first} and in {second}. The first counts.",
        kind=said(act.kind),
        subject=blank or act.value("parcel"),
        first=first.id,
        second=act.id,
    )
    return Conflict("done twice", (first.id, act.id), words, samplers=named)


def _open_min(opened_at: datetime | None, closed_at: datetime | None) -> float | None:
    if opened_at is None or closed_at is None or closed_at < opened_at:
        return None
    return minutes_between(opened_at, closed_at)


def _nothing(name: str) -> str:
    return ""
