"""Change a module in small ways and see which of the changes its tests don't notice: `python -m tests.mutate`."""
