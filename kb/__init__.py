"""tackroom: a knowledge base for bonding strain gauges.

Data goes one way: a job file and the knowledge (catalog and rules) go in; verdicts, chains, steps,
amounts and paper come out. Nothing earlier in that line imports anything later.
"""

__version__ = "0.1.0"
