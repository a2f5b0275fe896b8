"""What phones in the field speak to: the interface they deliver their entries through, and read the day from."""
