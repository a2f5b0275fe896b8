"""Which ports of a train the pump draws on."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field


@dataclass(slots=True)
class Drawing:
    """
    On which ports a pump draws, where “all” may include ports nobody has named yet.

    `everywhere` is what was last said of all ports, `exceptions` the ports of which the opposite holds.
    """

    everywhere: bool = False
    exceptions: set[str] = field(default_factory=set)

    def on(self, port: str) -> bool:
        """Whether the pump draws on a port."""
        return self.everywhere != (port in self.exceptions)

    def anywhere(self, known_ports: Collection[str]) -> bool:
        """Whether the pump draws on any port known so far."""
        if self.everywhere:
            return not known_ports or any(port not in self.exceptions for port in known_ports)
        return bool(self.exceptions)

    def start(self, ports: tuple[str, ...]) -> None:
        """Draw on these ports; on all where none is named."""
        self._set(ports, True)

    def stop(self, ports: tuple[str, ...]) -> None:
        """Stop drawing on these ports; on all where none is named."""
        self._set(ports, False)

    def copy(self) -> Drawing:
        """Return the same state, to come back to."""
        return Drawing(self.everywhere, set(self.exceptions))

    def _set(self, ports: tuple[str, ...], draws: bool) -> None:
        if not ports:
            self.everywhere, self.exceptions = draws, set()
        for port in ports:
            if draws == self.everywhere:
                self.exceptions.discard(port)
            else:
                self.exceptions.add(port)
