"""The k best costs of a model, by constraint programming: OR-Tools CP-SAT optimises and enumerates."""

from __future__ import annotations

from ortools.sat.python import cp_model

from tests.oracles.model import Model, Sets


def k_best_costs(model: Model, k: int) -> list[int]:
    """The costs of the k best chains, in order; fewer where fewer exist."""
    if not all(model.classes.values()):
        return []
    found: list[int] = []
    while len(found) < k:
        encoded = Encoded(model)
        if found:
            encoded.cp.add(encoded.cost >= found[-1] + 1)
        encoded.cp.minimize(encoded.cost)
        solver = solver_of()
        if solver.solve(encoded.cp) != cp_model.OPTIMAL:
            break
        cost = round(solver.objective_value)
        encoded = Encoded(model)
        encoded.cp.add(encoded.cost == cost)
        counter = _Counter(encoded, k)
        solver = solver_of()
        solver.parameters.enumerate_all_solutions = True
        solver.solve(encoded.cp, counter)
        found += [cost] * counter.chains
    return found[:k]


def solver_of() -> cp_model.CpSolver:
    """A solver that gives the same answers on every run."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver


class Encoded:
    """A model in CP-SAT's terms: a literal for each class, each set of classes, and each clause that costs."""

    def __init__(self, model: Model) -> None:
        self.model, self.cp = model, cp_model.CpModel()
        self.picked = {slot: [self.cp.new_bool_var("") for _ in classes] for slot, classes in model.classes.items()}
        self._in: dict[tuple[str, frozenset[int]], cp_model.IntVar] = {}
        costs, times = [], []
        for slot, classes in model.classes.items():
            self.cp.add_exactly_one(self.picked[slot])
            for literal, (points, ms, _) in zip(self.picked[slot], classes, strict=True):
                costs.append(points * literal)
                times.append(ms * literal)
        for clause in model.clauses:
            literals = self.literals(clause.sets)
            if clause.closes:
                self.cp.add_bool_or([literal.negated() for literal in literals])
                continue
            holds = self.all_of(clause.sets)
            costs.append(clause.points * holds)
            times.append(clause.ms * holds)
        for slot, permits in model.permits.items():
            for literal, (_, _, positions) in zip(self.picked[slot], model.classes[slot], strict=True):
                if positions == (0,):
                    ways = [self.all_of(permit) for permit in permits if all(permit.values())]
                    self.cp.add_bool_or([literal.negated(), *ways])
        self.cost = sum(costs)
        self.cp.add(sum(times) <= model.limit_ms)

    def literals(self, sets: Sets) -> list[cp_model.IntVar]:
        """For each slot a literal that is true where it is filled from its set."""
        return [self.within(slot, here) for slot, here in sets.items()]

    def within(self, slot: str, here: frozenset[int]) -> cp_model.IntVar:
        """A slot holds just one class, so that the sum over a set of them is 0 or 1."""
        if (slot, here) not in self._in:
            literal = self._in[slot, here] = self.cp.new_bool_var("")
            self.cp.add(sum(self.picked[slot][number] for number in here) == literal)
        return self._in[slot, here]

    def all_of(self, sets: Sets) -> cp_model.IntVar:
        """A literal that is true where every slot is filled from its set, and only there."""
        literals = self.literals(sets)
        holds = self.cp.new_bool_var("")
        self.cp.add_bool_and(literals).only_enforce_if(holds)
        self.cp.add_bool_or([holds, *(literal.negated() for literal in literals)])
        return holds


class _Counter(cp_model.CpSolverSolutionCallback):
    """Counts the chains that solutions stand for, up to `most`."""

    def __init__(self, encoded: Encoded, most: int) -> None:
        super().__init__()
        self.encoded, self.most, self.chains = encoded, most, 0

    def on_solution_callback(self) -> None:
        count = 1
        for slot, classes in self.encoded.model.classes.items():
            for literal, (_, _, positions) in zip(self.encoded.picked[slot], classes, strict=True):
                if self.value(literal):
                    count *= len(positions)
        self.chains += count
        if self.chains >= self.most:
            self.stop_search()
