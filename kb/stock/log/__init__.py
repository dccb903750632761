"""The append-only log of events on disk."""
