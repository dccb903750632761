"""How every command behaves: options before or behind its name, none given twice, help in groups."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from typer.core import TyperCommand, TyperGroup

from kb.base.errors import BadInput

#: Options that belong to any command, and whether a value follows them.
ANYWHERE: Mapping[str, bool] = {"--workspace": True, "--json": False}
#: The commands by what somebody wants, in the order of a day.
GROUPS: Mapping[str, Sequence[str]] = {
    "Choose materials": ("plan", "explain", "compare", "choose", "describe", "demo"),
    "Ask what goes together": ("check", "matrix"),
    "Look things up": ("identify", "list", "show", "rules", "calc", "call", "item", "confirm", "lint"),
    "Prepare the day": ("estimate", "pick", "timeline", "bench", "sheet", "picture"),
    "Keep what was done": ("run", "record", "sign", "trace", "recheck", "stock"),
    "The program": ("serve", "people", "completion"),
}
STOCK_GROUPS: Mapping[str, Sequence[str]] = {
    "Look": ("list", "flag", "history", "scan", "warm-up", "picture"),
    "Record what happened": ("receive", "open", "thaw", "mix", "use", "move", "count", "dispose", "temperatures"),
    "Decide": ("hold", "free", "release", "requalify", "condemn"),
    "Mend what was recorded": ("correct", "undo", "rename"),
    "Lists, labels, products": ("import", "layout", "export", "labels", "link", "products", "supply", "supplies"),
    "Keep it safe": ("backup", "restore", "verify"),
}


def in_place(words: Sequence[str], groups: Sequence[str]) -> list[str]:
    """Put options that stand before the command behind it; of `groups` the command is two words.

    >>> in_place(["--workspace", "lab", "stock", "list"], ["stock"])
    ['stock', 'list', '--workspace', 'lab']
    >>> in_place(["stock", "--json", "list", "--all"], ["stock"])
    ['stock', 'list', '--json', '--all']
    """
    named: list[str] = []
    moved: list[str] = []
    rest = list(words)
    while rest:
        option = rest[0].partition("=")[0]
        if option in ANYWHERE:
            taken = 2 if ANYWHERE[option] and "=" not in rest[0] else 1
            moved += rest[:taken]
            del rest[:taken]
        elif rest[0].startswith("-") or (named and named[0] not in groups) or len(named) == 2:
            break
        else:
            named.append(rest.pop(0))
    return [*named, *moved, *rest] if named else [*moved, *rest]


class Command(TyperCommand):
    """A command that takes an option once, unless it says that it may be repeated."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Refuse what would be passed over in silence: the earlier of two values for one option."""
        _, _, order = self.make_parser(ctx).parse_args(list(args))
        for parameter, times in Counter(order).items():
            once = parameter.param_type_name == "option" and not parameter.multiple
            if once and times > 1 and not getattr(parameter, "is_flag", False):
                raise BadInput(parameter.opts[-1], f"is given {times} times", "give it once")
        return list(super().parse_args(ctx, args))


class Group(TyperGroup):
    """Commands whose help stands in groups."""

    groups = GROUPS

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each command under the head of its group, with the first sentence of what it does."""
        placed = {name for names in self.groups.values() for name in names}
        others = tuple(name for name in self.list_commands(ctx) if name not in placed)
        for head, names in {**self.groups, "More": others}.items():
            rows = [
                (name, command.get_short_help_str(1000))
                for name in names
                if (command := self.get_command(ctx, name)) is not None
            ]
            if rows:
                with formatter.section(head):
                    formatter.write_dl(rows)


class StockGroup(Group):
    """The commands of `stock`."""

    groups = STOCK_GROUPS
