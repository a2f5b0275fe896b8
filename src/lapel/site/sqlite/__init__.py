"""Django's SQLite engine with one thing more: writers of this process wait in line instead of racing."""
