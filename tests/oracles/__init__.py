"""Independent answers to the same questions, and the jobs that they are asked."""
