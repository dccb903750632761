"""Search for the best chains: exact, and ignorant of what the slots mean."""
