"""Settings and wiring: the only place that knows which rooms a server has."""
