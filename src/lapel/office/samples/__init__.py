"""Samples with their standing and working, and shifts held against their limits."""
