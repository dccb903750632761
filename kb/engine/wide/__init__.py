"""Searches of knowledge far larger than ours: two calls, for where a layer of the state graph gets too wide.

`beam_search` takes the place of looking at every state, and says what it may have lost; `relaxed` merges states, so
that nothing is lost. Of 1,000 random jobs on the shipped knowledge one needs either, and would be answered as well
without. With 400 rules that hang together densely, on 300 items a slot, a beam answers in 0.1 s where looking at every
state takes 10 s (`python -m tests.benchmarks rules` measures such knowledge).
"""

from kb.engine.wide.beam import Beam, beam_search
from kb.engine.wide.merging import States, relaxed

__all__ = ["Beam", "States", "beam_search", "relaxed"]
