"""The scope of a survey: agents and their limits, products and tasks, groups, shifts, cautions; and a new survey."""
