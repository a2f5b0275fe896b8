"""A plan's lists as tables a spreadsheet opens: kit sheet, order list, blanks, time table, cost; units in the names."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from lapel.assessment.plan_products import Products
from lapel.assessment.planned import SurveyPlan
from lapel.figures import at_decimals, significant

Rows = tuple[Sequence[str], Iterable[Sequence[Any]]]


def _kit(plan: SurveyPlan, products: Products) -> Rows:
    """Pump by pump and port by port: medium, catalogue number, lot, wanted flow, sampler codes."""
    head = ("day", "train", "worker", "pump", "splitter", "port", "turn", "sampler", "medium", "catalogue", "lot",
            "flow_ml_min", "minutes", "volume_l")  # fmt: skip
    rows = []
    for train in plan.trains:
        for s in products.of_train(train):
            flow, minutes = s.flow_lpm or 0.0, s.minutes or 0.0
            volume = significant(flow * minutes, 3)
            rows.append(
                (train.day, train.code, train.worker, train.pump, train.splitter, s.port, s.turn, s.code, s.medium,
                 s.catalogue, s.lot, significant(flow * 1000, 3), at_decimals(minutes, 0), volume)
            )  # fmt: skip
    return head, rows


def _order(plan: SurveyPlan, products: Products) -> Rows:
    """What to take and order of each medium and lot."""
    head = ("medium", "catalogue", "lot", "samples", "field_blanks", "duplicates", "spares", "in_all", "packs", "pack",
            "remark")  # fmt: skip
    return head, [
        (k.medium, k.catalogue, k.lot, k.samples, k.blanks, k.duplicates, k.spares, k.total, k.packs, k.pack, k.remark)
        for k in products.kit
    ]


def _blanks(plan: SurveyPlan, products: Products) -> Rows:
    """Every field blank with its code; kept from the laboratory, which cannot tell them from samples."""
    head = ("day", "blank", "sampler", "medium", "catalogue", "lot", "handling", "rule")
    rules = {(b.day, b.medium): b for b in products.blanks}
    rows = []
    for s in products.samplers:
        if s.use == "field blank":
            count = rules[s.day, s.medium]
            handling = "opened and capped at the site" if count.opened else "capped at all times"
            rows.append((s.day, s.place, s.code, s.medium, s.catalogue, s.lot, handling, count.rule))
    return head, rows


def _time_table(plan: SurveyPlan, products: Products) -> Rows:
    """Every act of every technician, in the order they come."""
    head = ("day", "technician", "begins", "minutes", "late_min", "what", "train", "worker", "about")
    return head, [
        (a.day, a.technician, f"{a.begins_min // 60 % 24:02d}:{a.begins_min % 60:02d}", a.minutes, a.late_min, a.what,
         a.train, a.worker, a.about)
        for a in products.acts
    ]  # fmt: skip


def _cost(plan: SurveyPlan, products: Products) -> Rows:
    """What it costs, line by line; empty where no rate was given."""
    head = ("what", "count", "rate", "amount", "currency")
    currency = plan.inputs.rates.currency
    rows: list[Sequence[Any]] = [
        (
            line.what,
            f"{line.count:g}",
            "" if line.rate is None else at_decimals(line.rate, 2),
            "" if line.amount is None else at_decimals(line.amount, 2),
            currency,
        )
        for line in products.costs
    ]
    return head, [*rows, ("in all, of what has a rate", "", "", at_decimals(products.total_cost, 2), currency)]


LISTS: Mapping[str, Callable[[SurveyPlan, Products], Rows]] = {
    "kit": _kit,
    "order": _order,
    "blanks": _blanks,
    "time-table": _time_table,
    "cost": _cost,
}
"""The lists by name."""


def list_text(name: str, plan: SurveyPlan, products: Products) -> str:
    """
    Write one of the lists as CSV.

    Parameters
    ----------
    name : str
        One of `LISTS`.
    plan : SurveyPlan
    products : Products

    Raises
    ------
    KeyError
        There is no such list.
    """
    head, rows = LISTS[name](plan, products)
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([_harmless(cell) for cell in row] for row in rows)
    return stream.getvalue()


def _harmless(cell: Any) -> Any:
    """A text no spreadsheet takes for a formula."""
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "@", "\t", "\r") else cell
