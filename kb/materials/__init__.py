"""Words and descriptions to materials of the catalog."""
