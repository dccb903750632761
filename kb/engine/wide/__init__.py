"""Bounds on what a chain costs, for knowledge of many items: options that are too dear are left aside."""
