"""Rules: how they are written, when they hold, and what they say."""
