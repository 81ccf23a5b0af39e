"""The ledger: every accepted record with all its revisions, its quarantine, and the feeds they came from."""

from analytics.ledger.answers import default_as_of, ledger_hash, loads, set_aside_rows, settings
from analytics.ledger.connect import open_ledger
from analytics.ledger.load import load
from analytics.ledger.quarantine import quarantine_rows, write_quarantine
from analytics.ledger.report import LoadReport

__all__ = [
    "LoadReport",
    "default_as_of",
    "ledger_hash",
    "load",
    "loads",
    "open_ledger",
    "quarantine_rows",
    "set_aside_rows",
    "settings",
    "write_quarantine",
]
