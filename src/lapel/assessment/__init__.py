"""Where what was recorded meets the science: samples, shifts and surveys, assessed."""
