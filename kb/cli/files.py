"""What commands do with files: put an answer into one, or on standard output, and tell every fault of one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from kb.base.errors import BAD_INPUT, BadInput
from kb.cli.common import print_text, tell

Out = Annotated[
    Path | None, typer.Option("-o", "--output", "--out", help="The file to write; left out: standard output.")
]


def must_end_in(out: Path | None, suffixes: Sequence[str]) -> None:
    """Raise BadInput where a file's name ends in none of `suffixes`; without any, each will do."""
    if out is not None and suffixes and out.suffix.lower() not in suffixes:
        raise BadInput(str(out), f"its name must end in {' or '.join(suffixes)}", "name the file accordingly")


def put(content: str | bytes, out: Path | None, suffixes: Sequence[str] = ()) -> None:
    """Write content to a file, whose name must end in one of `suffixes`; without a file, print it."""
    if out is None:
        print_text(content if isinstance(content, str) else content.decode())
        return
    must_end_in(out, suffixes)
    try:
        # As it is: a table has its own line ends.
        out.write_bytes(content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise BadInput(str(out), f"can't be written: {error.strerror}", "name another file") from None


def put_page(page: str, out: Path | None) -> None:
    """Write a page to print to a file, HTML or PDF by the file's name, or as HTML to standard output."""
    if out is not None and out.suffix.lower() == ".pdf":
        from kb.report.pdf import pdf_of

        put(pdf_of(page, str(out)), out)
    else:
        put(page, out, (".html", ".htm", ".pdf"))


def put_table(table: str, out: Path | None, title: str) -> None:
    """Write a table to a file, CSV or a workbook by the file's name, or as CSV to standard output."""
    must_end_in(out, (".csv", ".xlsx"))
    if out is not None and out.suffix.lower() == ".xlsx":
        from kb.stock.workbook import workbook_of

        put(workbook_of(table, title), out)
    else:
        put(table, out)


@contextmanager
def every_fault() -> Iterator[None]:
    """Tell each fault of a file on a line of its own."""
    from kb.stock.tables import Faults

    try:
        yield
    except Faults as faults:
        for fault in faults.each:
            tell(str(fault))
        raise typer.Exit(BAD_INPUT) from None
