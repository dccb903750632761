"""Answers for people and programs: JSON, text, sheets and pictures."""
