"""The ledger: every accepted record with all its revisions, its quarantine, and the feeds they came from."""

from analytics.ledger.alike import proposals
from analytics.ledger.answers import default_as_of, latest_known_day, ledger_hash, loads, set_aside_rows, settings
from analytics.ledger.backup import BackedUp, backup
from analytics.ledger.connect import open_ledger
from analytics.ledger.doctor import doctor
from analytics.ledger.finding import Finding
from analytics.ledger.forget import Forgotten, forget
from analytics.ledger.known import known_before
from analytics.ledger.load import load
from analytics.ledger.private_key import known_as
from analytics.ledger.quarantine import quarantine_rows, rows_waiting, write_quarantine
from analytics.ledger.rebuild import rebuild
from analytics.ledger.report import LoadReport
from analytics.ledger.restore import restore
from analytics.ledger.same import KINDS, apart, ids_of, same, same_names
from analytics.ledger.trial import trial
from analytics.ledger.undo import undo, withdraw

__all__ = [
    "KINDS",
    "BackedUp",
    "Finding",
    "Forgotten",
    "LoadReport",
    "apart",
    "backup",
    "default_as_of",
    "doctor",
    "forget",
    "ids_of",
    "known_as",
    "known_before",
    "latest_known_day",
    "ledger_hash",
    "load",
    "loads",
    "open_ledger",
    "proposals",
    "quarantine_rows",
    "rebuild",
    "restore",
    "rows_waiting",
    "same",
    "same_names",
    "set_aside_rows",
    "settings",
    "trial",
    "undo",
    "withdraw",
    "write_quarantine",
]
