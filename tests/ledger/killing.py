"""Kill work on a ledger at any instant, and compare what is left with what was there before and would be after."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

from analytics.ledger import doctor, ledger_hash, open_ledger

ROOT = Path(__file__).resolve().parents[2]


class Workers:
    """A warmed-up process; each piece of work is a fork of it, so that a kill costs no imports."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", "tests.ledger.warm_worker"],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert json.loads(self.process.stdout.readline()) == "ready"

    def run(self, do: str, data: Path, *arguments: object, seconds: float = 0, operation: int = 0) -> dict:
        """Do something in a fork; kill it after `seconds`, or at its n-th `operation` on a file, if it still runs.

        Returns ``killed``, ``took`` (seconds), and ``done`` with the outcome or ``failed`` with the error, if either
        was acknowledged.
        """
        order = {"do": do, "data": str(data), "with": arguments, "seconds": seconds, "operation": operation}
        self.process.stdin.write(json.dumps(order) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def close(self) -> None:
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()


def fresh(data: Path, to: Path) -> Path:
    """Copy a data folder over an earlier copy."""
    shutil.rmtree(to, ignore_errors=True)
    return shutil.copytree(data, to) if data.exists() else to


def image(data: Path, *, instants: bool = False) -> dict[str, object]:
    """Return count and hash of the rows of every table of a ledger, and its hash; of instants only where asked."""
    with open_ledger(data, write=False) as connection:
        named = connection.sql(
            "select table_name, string_agg(column_name, ', ') from duckdb_columns() join duckdb_tables() "
            "using (table_name) where $instants or data_type != 'TIMESTAMP' group by all",
            params={"instants": instants},
        ).fetchall()
        asked = [
            f"select '{name}', count(*), sum(hash(t))::varchar from (select {columns} from {name}) as t"
            for name, columns in named
        ]
        rows = connection.sql(" union all ".join(asked)).fetchall()
        return {"hash": ledger_hash(connection), **{name: counted for name, *counted in rows}}


def assert_good(data: Path) -> None:
    told = doctor(data)
    assert all(finding.ok for finding in told), [finding for finding in told if not finding.ok]
