"""The plan of a survey: what is asked, what it is made from, the search, the plan by day, hand edits, papers."""
