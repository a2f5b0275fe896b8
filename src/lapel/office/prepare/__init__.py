"""The day's trains as they were prepared, and what is missing."""
