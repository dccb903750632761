"""Pages of docs/ that are written from the knowledge and the commands."""
