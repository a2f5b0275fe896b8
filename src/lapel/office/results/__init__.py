"""Results: a laboratory's file as it came, how it would be read, what it leaves open, and taking it over."""
