"""The published result: declared tables, writing, reading."""

from analytics.snapshot.read import latest_path, open_snapshot, read_table, snapshot_folder
from analytics.snapshot.tables import TABLES
from analytics.snapshot.told import read_told, safety_critical
from analytics.snapshot.write import write_snapshot

__all__ = [
    "TABLES",
    "latest_path",
    "open_snapshot",
    "read_table",
    "read_told",
    "safety_critical",
    "snapshot_folder",
    "write_snapshot",
]
