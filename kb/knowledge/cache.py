"""The knowledge compiled into one file, so that an ordinary run needn't parse hundreds.

The compiled file is a cache and never trusted: it holds a checksum of itself, the version of its own form,
and the content digest of every file that it was made from. Like a version-control index it also holds each
file's stat data; where those are unchanged the contents are not read again. A file touched within
two seconds of the compiling may have changed unseen, so its stat data don't count.
It is read with `marshal`, which yields plain values and runs nothing.
"""

from __future__ import annotations

import contextlib
import hashlib
import marshal
import os
import sys
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from kb import __version__
from kb.base.places import shipped
from kb.rules.clauses import AnyOf, Calculation, Clause, Condition, Ref
from kb.rules.rule import Rule

FORM = 5
_HEADER = f"tackroom knowledge {__version__} form {FORM} python {sys.version_info[0]}.{sys.version_info[1]}\n".encode()
_RACY_NS = 2_000_000_000
_WHEN, _NEEDS = Rule.__slots__.index("when"), Rule.__slots__.index("needs")


def roots(workspace: Path | None) -> dict[str, Path]:
    """Every folder that knowledge comes from, by the name it has in messages."""
    rules, catalog = shipped()
    found = {"rules": rules, "generic_catalog": catalog}
    if workspace is not None:
        found |= {f"house {name}": workspace / name for name in ("rules", "catalog") if (workspace / name).is_dir()}
    return found


def load(workspace: Path | None = None) -> tuple[dict[str, Any], str]:
    """The compiled knowledge and the digest of the files it stands on; compiled anew where it doesn't match."""
    where = roots(workspace)
    cache = _cache_file(where)
    stats = _stats(where)
    if cache is not None and (kept := _read(cache)) is not None:
        if kept["stats"] == stats:
            return kept["payload"], kept["digest"]
        digest = _digest(where, stats)
        if kept["digest"] == digest:
            _write(cache, {**kept, "stats": _settled(stats)})
            return kept["payload"], digest
    from kb.engine.prepare import prepared
    from kb.knowledge.build import build

    digest = _digest(where, stats)
    payload = prepared(build(where))
    if cache is not None:
        _write(cache, {"stats": _settled(stats), "digest": digest, "payload": payload})
    return payload, digest


def _cache_file(where: Mapping[str, Path]) -> Path | None:
    base = os.environ.get("TACKROOM_CACHE") or os.environ.get("XDG_CACHE_HOME")
    home = Path(base) if base else Path.home() / ".cache"
    key = hashlib.sha256("\0".join(str(p) for p in where.values()).encode()).hexdigest()[:16]
    return home / "tackroom" / f"{key}.knowledge"


def _stats(where: Mapping[str, Path]) -> dict[str, tuple[int, ...]]:
    """Size, times and inode of every knowledge file, by path; in no dependence on the folder's order."""
    found: dict[str, tuple[int, ...]] = {}
    for root in where.values():
        for path, stat in _walk(str(root)):
            found[path] = (stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_ino)
    return dict(sorted(found.items()))


def _walk(folder: str) -> Iterable[tuple[str, os.stat_result]]:
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith((".", "_")):
                continue
            if entry.is_dir():
                yield from _walk(entry.path)
            elif entry.name.endswith(".toml"):
                yield entry.path, entry.stat()


def _settled(stats: Mapping[str, tuple[int, ...]]) -> dict[str, tuple[int, ...]]:
    """`stats` without those of files so fresh that a further change might not show in them."""
    now = time.time_ns()
    return {path: s if now - max(s[1], s[2]) > _RACY_NS else () for path, s in stats.items()}


def _digest(where: Mapping[str, Path], stats: Mapping[str, Any]) -> str:
    """A hash of every file's content and its path below its folder: the same wherever the knowledge is installed."""
    total = hashlib.sha256()
    for name, root in where.items():
        for path in (p for p in stats if p.startswith(f"{root}{os.sep}")):
            content = b""
            with contextlib.suppress(OSError):
                content = Path(path).read_bytes()
            named = f"{name}/{path.removeprefix(str(root)).replace(os.sep, '/')}".encode()
            total.update(hashlib.sha256(named + b"\0" + content).digest())
    return total.hexdigest()


def _read(cache: Path) -> dict[str, Any] | None:
    """What the cache holds; None where it is absent, of another form, or damaged in any bit."""
    try:
        raw = cache.read_bytes()
    except OSError:
        return None
    size = len(_HEADER)
    body = memoryview(raw)[size + 32 :]
    if raw[:size] != _HEADER or hashlib.sha256(body).digest() != raw[size : size + 32]:
        return None
    try:
        kept = marshal.loads(body)
    except (ValueError, EOFError, TypeError):
        return None
    return kept if isinstance(kept, dict) else None


def _write(cache: Path, kept: Mapping[str, Any]) -> None:
    """Writes beside and renames; a cache that can't be written is done without."""
    body = marshal.dumps(_shared(dict(kept), {}))
    beside = cache.with_suffix(f".{os.getpid()}")
    with contextlib.suppress(OSError):
        cache.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(_HEADER + hashlib.sha256(body).digest() + body)
        beside.replace(cache)


def _shared(value: Any, known: dict[Any, Any]) -> Any:
    """`value` with equal parts as one object, which marshal then writes, and reads, once."""
    if isinstance(value, dict):
        return {_shared(key, known): _shared(inner, known) for key, inner in value.items()}
    if isinstance(value, list):
        return [_shared(inner, known) for inner in value]
    if isinstance(value, tuple):
        parts = tuple(_shared(inner, known) for inner in value)
        # Told apart by what the parts are and not by what they equal: True is no 1, and 1 no 1.0.
        return known.setdefault((tuple, *map(id, parts)), parts)
    return known.setdefault((type(value), value), value) if isinstance(value, (str, int, float)) else value


def pack_rule(rule: Rule) -> tuple[Any, ...]:
    """`rule` in plain values, in the order of its fields."""
    return tuple(
        tuple(pack(c) for c in rule.when) if name == "when"
        else tuple(pack(c) for c in rule.needs) if name == "needs"
        else getattr(rule, name)
        for name in Rule.__slots__
    )  # fmt: skip


def unpack_rule(packed: tuple[Any, ...]) -> Rule:
    """The rule that `pack_rule` took apart."""
    values = list(packed)
    for place in (_WHEN, _NEEDS):
        values[place] = tuple(unpack(c) for c in packed[place])
    return Rule(*values)


def pack(condition: Condition) -> tuple[Any, ...]:
    """A condition in plain values."""
    if isinstance(condition, AnyOf):
        return ("any", tuple(pack(c) for c in condition.clauses))
    fact, value = condition.fact, condition.value
    return (
        condition.op,
        fact if isinstance(fact, str) else (fact.name, dict(fact.inputs), fact.result),
        ("ref", value.fact, value.plus) if isinstance(value, Ref) else ("is", value),
    )


def unpack(packed: tuple[Any, ...]) -> Condition:
    """The condition that `pack` took apart."""
    if packed[0] == "any":
        return AnyOf(tuple(c for inner in packed[1] if isinstance(c := unpack(inner), Clause)))
    op, fact, value = packed
    return Clause(
        fact if isinstance(fact, str) else Calculation(*fact),
        op,
        Ref(value[1], value[2]) if value[0] == "ref" else value[1],
    )
