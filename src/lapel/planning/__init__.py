"""
Planning: from the question to a feasible day.

The window of a sample, the train that carries it, whom to draw, how many results to want, and the campaign:
who wears what on which day, with its proof or its gap, re-checked by a reader that knows nothing of the search.
"""
