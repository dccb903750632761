"""Judged comparisons: for a job, which chain a bonder would take before which, and why (rules/judged/).

What a chain costs follows from them (kb.calibrate); lint holds every one of them.
"""

from kb.judged.comparison import Comparison, Side, load_comparisons
from kb.judged.sides import Held, hold

__all__ = ["Comparison", "Held", "Side", "hold", "load_comparisons"]
