"""The field log: append-only entries and the pure fold from entries to the day."""
