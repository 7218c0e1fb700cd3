"""Which rows of the index count: those that were made by the last reading of each log."""
from __future__ import annotations

import hashlib
import re
import tempfile
from importlib.resources import files
from pathlib import Path
from typing import Optional

import duckdb

from companion import VERSION
from companion.errors import BrokenMachine
from companion.office.review.store import Store
from companion.office.review.tables import TABLES

INDEX = "office/index"
"""The index's folder, in the folder of the logs, unless it is kept apart."""
LIVE = "live.parquet"
"""Says of each log what it looked like when it was last read, and in which run that was."""


def _form() -> str:
    """What made the index: the program's version, and a hash of all that says what a row holds."""
    program = files("companion")
    office = program / "office"
    sources = [office / "review" / "rows.py", office / "review" / "tables.py", office / "record" / "times.py",
               office / "account.py", office / "holds.py", program / "core" / "job" / "pointing.py",
               program / "core" / "job" / "measuring.py"]
    for folder in (office / "findings", program / "trade"):
        sources += sorted((one for one in folder.iterdir() if one.name.endswith(".py")), key=lambda one: one.name)
    return f"{VERSION} {hashlib.sha256(b''.join(one.read_bytes() for one in sources)).hexdigest()[:16]}"


FORM = _form()
"""An index of another form is made anew: its rules may differ."""


def index_of(logs: Store, apart: str = "") -> Store:
    """Where the index of a folder of logs lies: in it, or in the folder `apart`, under a name that hangs on the address of
    the logs, so that one such folder may serve many."""
    if not apart:
        return logs.within(INDEX)
    address = str(Path(logs.address).resolve()) if logs.local else logs.address
    return Store(apart).within(hashlib.sha256(address.encode("utf-8", "surrogateescape")).hexdigest()[:16])


def live(index: Store) -> dict[str, tuple[str, int]]:
    """Each log of the index: its fingerprint, "" where it could not be read, and the run it was last read in. {} where
    there is none of this form."""
    return {log: (mark, run) for log, mark, run, form in rows_of_live(index) if form == FORM}


def rows_of_live(index: Store) -> list[tuple[str, str, int, str]]:
    """Log, fingerprint, run and form, of whatever form."""
    if not index.has(LIVE):
        return []
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder:
        index.fetch(LIVE, Path(folder) / LIVE)
        try:
            with duckdb.connect() as database:
                return database.execute("SELECT log, fingerprint, run, form FROM read_parquet(?)",
                                        [f"{folder}/{LIVE}"]).fetchall()
        except duckdb.Error as error:
            raise BrokenMachine(f"{index.address}/{LIVE}", f"cannot be read: {error}",
                                do="Remove the folder of the index, and run it again: it is made from the logs") from None


def write_live(index: Store, logs: dict[str, tuple[str, int]]) -> None:
    """Say which logs the index has; see `live`. What is written here is what counts from now on."""
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        made = Path(folder) / LIVE
        database.execute("SET threads = 1")
        live_table(database, logs)
        database.execute(f"COPY live TO '{made}' (FORMAT parquet, COMPRESSION zstd)")
        index.put(made, LIVE)


def live_table(database: duckdb.DuckDBPyConnection, logs: dict[str, tuple[str, int]]) -> None:
    """Make the table `live` of what `live` gives."""
    names = sorted(logs)
    database.execute("CREATE TABLE live AS SELECT unnest($logs)::VARCHAR AS log, unnest($marks)::VARCHAR AS fingerprint, "
                     "unnest($runs)::INTEGER AS run, $form AS form",
                     {"logs": names, "marks": [logs[name][0] for name in names],
                      "runs": [logs[name][1] for name in names], "form": FORM})


def run_of(part: str) -> int:
    """The run that a part's name gives; 0 for any other name."""
    found = re.fullmatch(r"([0-9]{6})-[0-9]{5}\.parquet", part)
    return int(found[1]) if found else 0


def parts_of(folder: Store, runs: set[int], into: Optional[Path]) -> list[str]:
    """Paths of the parts that count; fetched to this machine first where they are elsewhere."""
    names = [name for name in sorted(folder.listing()) if run_of(name) in runs]
    if into is None:
        return [folder.path(name) for name in names]
    into.mkdir(parents=True)
    for name in names:
        folder.fetch(name, into / name)
    return [str(into / name) for name in names]


def whole(index: Store, runs: set[int]) -> bool:
    """Whether those runs have their parts in every table: one that somebody removed would hide its jobs or findings."""
    parts = [{name for name in index.within(table).listing() if run_of(name) in runs} for table in TABLES]
    return all(some == parts[0] for some in parts) and {run_of(name) for name in parts[0]} == runs


def live_rows(table: str, parts: list[str]) -> str:
    """The SQL for the rows of a table that were made by the last reading of their log."""
    if not parts:
        return "SELECT " + ", ".join(f"NULL::{kind} AS {name}" for name, kind in TABLES[table].items()) + " WHERE false"
    listed = ", ".join("'" + part.replace("'", "''") + "'" for part in parts)
    return (f"SELECT rows.* EXCLUDE (filename) FROM read_parquet([{listed}], filename = true) AS rows JOIN live "
            "ON live.log = rows.log AND live.run = regexp_extract(filename, '([0-9]{6})-[0-9]{5}[.]parquet$', 1)::INTEGER")
