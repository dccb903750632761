"""Of random jobs, how many answers hang on nothing that is only recalled.

`python -m tests.planning.decided --jobs 1000` prints it. The jobs are those of tests/oracles/jobs.py, by their seeds.
A plan takes about a second: a thousand take a while.
"""

from __future__ import annotations

import argparse
from collections import Counter

from kb import knowledge
from kb.engine.plan import Engine
from kb.planning.ask import ask
from tests.oracles.jobs import random_job


def decided(engine: Engine, seeds: range) -> tuple[Counter[str], Counter[str]]:
    """Count the answers by what they hang on, and the facts that they hang on by field."""
    answers: Counter[str] = Counter()
    fields: Counter[str] = Counter()
    for seed in seeds:
        asked = ask(engine, random_job(seed, engine.knowledge)[0], f"job {seed}", 1)
        recalled = [hang for hang in asked.hangs_on or () if hang.basis == "memory"]
        chain = "a chain" if asked.plan.chains else "no chain"
        answers[f"{chain}, which hangs on {'something' if recalled else 'nothing'} recalled"] += 1
        fields.update(hang.field.rpartition(".")[2] for hang in recalled)
    return answers, fields


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=1000)
    parser.add_argument("--from", type=int, default=0, dest="first")
    given = parser.parse_args()
    answers, fields = decided(Engine(knowledge.load()), range(given.first, given.first + given.jobs))
    for words, count in answers.most_common():
        print(f"{count:>5}  {words}")
    print(
        "Recalled fields that most hang on: " + ", ".join(f"{name} {count}" for name, count in fields.most_common(12))
    )


if __name__ == "__main__":
    main()
