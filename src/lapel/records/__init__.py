"""The records: who, where, what, with which equipment, and the append-only log in a database."""
