"""
The text in the QR code of a kit sheet: what is on each port of a pump, in one line that a scanner can type.

``LAPEL KIT 1;P-11;mL/min|A;charcoal 100/50;T-100-50;CH-8120;12.0;|B;...``: after the mark, pump and unit of flow; then
a part for each port with its letter, medium, catalogue number, lot, flow it is meant for and the supplier's own reading
where there is one. Percent, semicolon, bar and every sign that is no printable ASCII are written as % and two
hexadecimal digits of their UTF-8. Described in docs/reference/kit-sheet-code.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

MARK = "LAPEL KIT 1"
UNIT = "mL/min"
_PLAIN = " !\"#$&'()*+,-./:<=>?@[\\]^_`{}~"


@dataclass(frozen=True, slots=True)
class KitPort:
    """One port of a kit sheet, as texts; flows in mL/min, `supplier` empty where the supplier read none."""

    port: str
    medium: str
    catalogue: str
    lot: str
    intended: str
    supplier: str = ""


def kit_sheet_code(pump: str, ports: Sequence[KitPort]) -> str:
    """
    Write what a kit sheet says of one pump.

    Parameters
    ----------
    pump : str
        Its code.
    ports : sequence of KitPort
        Its ports, in their order.

    Returns
    -------
    str
        Plain ASCII in one line.
    """
    parts: list[tuple[str, ...]] = [(MARK, pump, UNIT)]
    parts += [(one.port, one.medium, one.catalogue, one.lot, one.intended, one.supplier) for one in ports]
    return "|".join(";".join(quote(text, safe=_PLAIN) for text in part) for part in parts)
