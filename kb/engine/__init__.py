"""The engine: screen items against the job, join slots, find the best chains, explain."""
