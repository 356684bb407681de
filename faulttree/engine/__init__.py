"""Exact fault-tree quantification; a library of its own that knows nothing of Django."""
