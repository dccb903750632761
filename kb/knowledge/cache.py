"""The knowledge compiled into one file, so that an ordinary run needn't parse hundreds.

The compiled file is a cache and never trusted: it holds a checksum of itself, the version of its own form,
and the content digest of every file that it was made from. It also holds a mark of their stat data; where
that is unchanged the contents are not read again. A file touched within two seconds of the compiling may
have changed unseen, so there is no mark then.
Whose file it is, and that it is whole, `kb.base.caches` sees to.
"""

from __future__ import annotations

import contextlib
import hashlib
import marshal
import os
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, cast

from kb import __version__
from kb.base import caches, disk
from kb.base.errors import BadInput
from kb.base.places import shipped
from kb.rules.clauses import Value

if TYPE_CHECKING:
    from kb.knowledge.tables import Compiled, Kept

#: Makes the knowledge from its folders, in plain values.
Builder = Callable[[Mapping[str, Path]], "Compiled"]
FORM = 40
_HEADER = caches.header(f"knowledge {__version__} form {FORM}")
_RACY_NS = 2_000_000_000
#: Folders of which nothing is compiled: what they hold is only ever held against the rest.
_FOR_LINT = frozenset(("judged", "laws"))


def roots(workspace: Path | None) -> dict[str, Path]:
    """List every folder that knowledge comes from, by the name it has in messages."""
    rules, catalog = shipped()
    found = {"rules": rules, "generic_catalog": catalog}
    if workspace is not None:
        found |= {f"house {name}": workspace / name for name in ("rules", "catalog") if (workspace / name).is_dir()}
    return found


def load(where: Mapping[str, Path], build: Builder) -> tuple[Compiled, str]:
    """Return what was compiled of the files in `where` and their digest; `build` compiles where nothing matches."""
    cache = _cache_file(where)
    stats = _stats(where)
    mark = _mark(stats)
    if cache is not None and (kept := _read(cache)) is not None:
        if mark and kept["mark"] == mark:
            return kept["payload"], kept["digest"]
        digest = _digest(where, stats)
        if kept["digest"] == digest:
            if mark:
                _write(cache, {**kept, "mark": mark})
            return kept["payload"], digest
    digest = _digest(where, stats)
    payload = build(where)
    if cache is not None:
        _write(cache, {"mark": mark, "digest": digest, "payload": payload})
    return payload, digest


def _cache_file(where: Mapping[str, Path]) -> Path | None:
    folder = caches.folder()
    return None if folder is None else folder / f"{caches.key(*map(str, where.values()))}.knowledge"


def _stats(where: Mapping[str, Path]) -> dict[str, tuple[int, ...]]:
    """Note size, times and inode of every knowledge file, by path; in no dependence on the folder's order."""
    found: dict[str, tuple[int, ...]] = {}
    for root in where.values():
        for path, stat in _walk(str(root)):
            found[path] = (stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_ino)
    return dict(sorted(found.items()))


def _mark(stats: dict[str, tuple[int, ...]]) -> str:
    """Sum the stat data up; "" where a file is so fresh that a further change might not show in them."""
    changed = max((max(s[1], s[2]) for s in stats.values()), default=0)
    if time.time_ns() - changed <= _RACY_NS:
        return ""
    # Of a form without references, which would tell how often a value happens to be in use.
    return hashlib.sha256(marshal.dumps(stats, 2)).hexdigest()


def _walk(folder: str) -> Iterable[tuple[str, os.stat_result]]:
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith((".", "_")):
                continue
            if entry.name.endswith(".toml"):
                yield entry.path, entry.stat()
            elif entry.name not in _FOR_LINT and entry.is_dir():
                yield from _walk(entry.path)


def _digest(where: Mapping[str, Path], stats: Iterable[str]) -> str:
    """Hash every file's content and its path below its folder: the same wherever the knowledge is installed."""
    total = hashlib.sha256()
    for name, root in where.items():
        for path in (p for p in stats if p.startswith(f"{root}{os.sep}")):
            content = b""
            with contextlib.suppress(BadInput):
                content = disk.read(Path(path))
            named = f"{name}/{path.removeprefix(str(root)).replace(os.sep, '/')}".encode()
            total.update(hashlib.sha256(named + b"\0" + content).digest())
    return total.hexdigest()


def _read(cache: Path) -> Kept | None:
    """Read what the cache holds; None where it can't be believed."""
    kept = caches.read(cache, _HEADER)
    return cast("Kept", kept) if isinstance(kept, dict) else None


def _write(cache: Path, kept: Kept) -> None:
    """Keep it for the next time; a cache that can't be written is done without."""
    caches.write(cache, _HEADER, _shared(kept, {}))


def _shared(value: Value, known: dict[object, Value]) -> Value:
    """Share equal parts of `value` as one object, which marshal then writes, and reads, once."""
    if isinstance(value, dict):
        return {_shared(key, known): _shared(inner, known) for key, inner in value.items()}
    if isinstance(value, list):
        return [_shared(inner, known) for inner in value]
    if isinstance(value, tuple):
        parts = tuple(_shared(inner, known) for inner in value)
        # Told apart by what the parts are and not by what they equal: True is no 1, and 1 no 1.0.
        return known.setdefault((tuple, *map(id, parts)), parts)
    return known.setdefault((type(value), value), value) if isinstance(value, (str, int, float)) else value
