"""Every error this project raises on purpose.

WearLedgerError
  FeedError        a feed or mapping cannot be read as what it says it is; nothing was loaded
  LedgerError      the ledger is missing, held by another process, or not what was written
  SnapshotError    a snapshot is missing or not what was written
  OutputError      a file, folder or port that was named cannot be used
  SpellError       rows handed to an estimator break its contract
"""

from __future__ import annotations


class WearLedgerError(Exception):
    """Base of all errors raised on purpose; shown to users without a traceback.

    Parameters
    ----------
    what
        What went wrong, in one sentence, with the values that were seen.
    where
        File and line, table and key, or function argument.
    next_step
        What the reader can do about it, in the imperative.
    """

    def __init__(self, what: str, *, where: str, next_step: str) -> None:
        self.what = what
        self.where = where
        self.next_step = next_step
        super().__init__(f"{what}\n  where: {where}\n  next:  {next_step}")


class FeedError(WearLedgerError):
    """A feed or mapping cannot be read as what it says it is."""


class LedgerError(WearLedgerError):
    """The ledger is missing, held by another process, or not what was written."""


class SnapshotError(WearLedgerError):
    """A snapshot is missing or not what was written."""


class OutputError(WearLedgerError):
    """A file, folder or port that was named cannot be used."""


class SpellError(WearLedgerError, ValueError):
    """Rows handed to an estimator break its contract."""
