"""Reads a Parquet file of physical values through the same guessing of columns as a table of text."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any

from coach.importer.columns import ImportProblem
from coach.importer.long_form import widened
from coach.importer.opening import Source
from coach.importer.table import Table, decimal
from coach.importer.text import MOST_COLUMNS, State, Text

NEEDED = "pyarrow is needed to read it: pip install 'pyarrow>=18'"
BATCH_ROWS = 4096


def open_parquet(source: Source, mapping: Mapping[str, str]) -> Table:
    """Open a Parquet file. ImportProblem when it is damaged, or its library is missing."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise ImportProblem(f"{source.name}: a Parquet file. {NEEDED}") from None
    if source.packed:
        raise ImportProblem(f"{source.name}: a Parquet file within gzip; unpack it first")
    try:
        file = pyarrow.parquet.ParquetFile(source.stream)
        names = list(file.schema_arrow.names)
        if len(names) > MOST_COLUMNS:
            raise ImportProblem(f"{source.name}: {len(names)} columns, more than a table of a drive has")
    except (pyarrow.ArrowException, OSError, ValueError) as error:
        if isinstance(error, ImportProblem):
            raise
        raise ImportProblem(f"{source.name}: a damaged Parquet file: {_first_line(error)}") from None

    def text() -> Text:
        # a semicolon as delimiter: the numbers have decimal points, and none parts thousands
        return Text(names, _rows(source, file, pyarrow.ArrowException), 1, ";", "utf-8", 0, State())

    wide = widened(text(), text, mapping, decimal)
    return Table(source.name, wide or text(), dict(mapping))


def _rows(source: Source, file: Any, failure: type[Exception]) -> Iterator[list[str]]:
    try:
        for batch in file.iter_batches(batch_size=BATCH_ROWS):
            columns = [column.to_pylist() for column in batch.columns]
            for row in zip(*columns, strict=True):
                yield [_cell(value) for value in row]
    except (failure, OSError, ValueError) as error:
        if isinstance(error, ImportProblem):
            raise
        raise ImportProblem(f"{source.name}: a damaged Parquet file: {_first_line(error)}") from None


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(" ", "microseconds")
    if isinstance(value, timedelta):
        return repr(value.total_seconds())
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value)


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0][:120] if str(error) else type(error).__name__
