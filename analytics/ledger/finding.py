"""What the doctor found."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was examined.

    Attributes
    ----------
    kind
        What: ``log``, ``ledger``, ``counts``, ``content``, ``quarantine``, ``journal``, ``feeds``, ``feed rows``,
        ``key``, ``snapshots``, ``disk``.
    ok
        Whether it is as it should be.
    says
        What was seen, and what to do where it is not.
    """

    kind: str
    ok: bool
    says: str
