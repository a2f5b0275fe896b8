"""The live day, the log with its entries, their corrections, and conflicts to settle."""
