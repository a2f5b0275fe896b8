"""Documents: figures become text cells once, here, and templates arrange them."""
