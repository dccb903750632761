"""Make the small changes of a module: one at a time, in the order of its lines."""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
Node = ast.expr | ast.stmt
Put = Callable[[Node], None]
N = TypeVar("N", bound=ast.AST)
#: Calls of builtins in place of which another can stand.
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any", "sorted": "list"}


@dataclass(frozen=True)
class Change:
    """One small change: where it is made, what stood there and what stands there now, and the module with it."""

    line: int
    was: str
    now: str
    source: str

    def __str__(self) -> str:
        return f"{self.line}: {self.was}  ->  {self.now}"


def changes(source: str) -> list[Change]:
    """Every small change of a module, by line."""
    tree = ast.parse(source)
    found = []
    for node, put in _places(tree):
        for other in _others(node):
            put(other)
            now = "(left out)" if isinstance(other, ast.Pass) else _words(other)
            found.append(Change(node.lineno, _words(node), now, ast.unparse(ast.fix_missing_locations(tree))))
        put(node)
    # The sort is stable, so changes of one line stay in the order in which they were made.
    return sorted(found, key=lambda change: change.line)


def _words(node: ast.AST) -> str:
    """A node as one line, cut where it runs on."""
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 100 else f"{text[:97]}..."


def _places(tree: ast.AST) -> Iterator[tuple[Node, Put]]:
    """Every expression and statement that is run, each with what puts another in its place."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for number, child in enumerate(value if isinstance(value, list) else [value]):
            if not isinstance(child, ast.AST) or _only_for_types(child):
                continue
            if isinstance(child, ast.expr | ast.stmt):
                yield child, _putter(tree, name, value, number)
            yield from _places(child)


def _putter(parent: ast.AST, name: str, value: object, number: int) -> Put:
    """What puts a node in the place of the one that stands there."""

    def put(node: Node) -> None:
        if isinstance(value, list):
            value[number] = node
        else:
            setattr(parent, name, node)

    return put


def _only_for_types(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def _others(node: Node) -> Iterator[Node]:
    """What can stand in the place of a node, each a small change of it."""
    if isinstance(node, ast.stmt):
        yield from _other_statements(node)
    elif isinstance(node, ast.Compare):
        for number, operator in enumerate(node.ops):
            yield _with(node, ops=[*node.ops[:number], COMPARED[type(operator)](), *node.ops[number + 1 :]])
    elif isinstance(node, ast.BoolOp):
        yield _with(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
        for number in range(len(node.values)):
            rest = node.values[:number] + node.values[number + 1 :]
            yield _with(node, values=rest) if len(rest) > 1 else rest[0]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand
    elif isinstance(node, ast.BinOp) and type(node.op) in RECKONED and not _is_type_or_text(node):
        yield _with(node, op=RECKONED[type(node.op)]())
    elif isinstance(node, ast.Constant):
        yield from _other_constants(node)
    elif isinstance(node, ast.IfExp):
        yield from (_with(node, test=test) for test in _negated(node.test))
    elif isinstance(node, ast.Call):
        yield from _other_calls(node)
    elif isinstance(node, ast.ListComp | ast.SetComp | ast.GeneratorExp | ast.DictComp):
        for number, part in enumerate(node.generators):
            if part.ifs:
                wider = _with(part, ifs=[])
                yield _with(node, generators=[*node.generators[:number], wider, *node.generators[number + 1 :]])


def _other_statements(node: ast.stmt) -> Iterator[ast.stmt]:
    if isinstance(node, ast.Return) and node.value is not None and ast.unparse(node.value) != "None":
        yield _with(node, value=ast.Constant(None))
    elif isinstance(node, ast.If | ast.While):
        yield from (_with(node, test=test) for test in _negated(node.test))
    elif isinstance(node, ast.Break):
        yield ast.Continue()
    elif isinstance(node, ast.Continue):
        yield ast.Break()
    if _can_be_left_out(node):
        yield ast.copy_location(ast.Pass(), node)


def _negated(test: ast.expr) -> Iterator[ast.expr]:
    """The opposite of a test, unless a change of what stands in it says as much."""
    if not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp):
        yield ast.UnaryOp(ast.Not(), test)


def _can_be_left_out(node: ast.stmt) -> bool:
    """Whether a module without this statement still runs: one that names something new must stay."""
    if isinstance(node, ast.Expr):
        return not isinstance(node.value, ast.Constant)
    if isinstance(node, ast.Assign):
        return any(isinstance(target, ast.Attribute | ast.Subscript) for target in node.targets)
    return isinstance(node, ast.AugAssign | ast.Delete | ast.Raise | ast.Assert)


def _other_constants(node: ast.Constant) -> Iterator[ast.Constant]:
    """Another truth, or a number beside this one. Texts are left as they are: their words are read by people."""
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node.value, int | float):
        yield ast.Constant(node.value + 1 if isinstance(node.value, int) or not node.value else node.value * 1.25)


def _other_calls(node: ast.Call) -> Iterator[ast.Call]:
    if isinstance(node.func, ast.Name) and node.func.id in CALLED:
        bare = node.func.id == "sorted"
        called = ast.Name(CALLED[node.func.id], ast.Load())
        yield _with(node, func=called, keywords=[] if bare else node.keywords)
    first, second = (*node.args, None, None)[:2]
    commutes = isinstance(node.func, ast.Name) and node.func.id in ("min", "max")
    if first and second and not commutes and not isinstance(first, ast.Starred) and ast.dump(first) != ast.dump(second):
        yield _with(node, args=[second, first, *node.args[2:]])


def _is_type_or_text(node: ast.BinOp) -> bool:
    """Whether an operator joins types (`int | None`) or texts: neither is reckoning."""
    sides = (node.left, node.right)
    if isinstance(node.op, ast.BitOr):
        return any(isinstance(side, ast.Constant) and side.value is None for side in sides)
    return any(
        isinstance(s, ast.JoinedStr) or (isinstance(s, ast.Constant) and isinstance(s.value, str)) for s in sides
    )


def _with(node: N, **fields: object) -> N:
    """The node with other fields."""
    other = copy.copy(node)
    for name, value in fields.items():
        setattr(other, name, value)
    return other
