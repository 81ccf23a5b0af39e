"""Names one after the other in a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def all_of(names: Sequence[str], last: str = "and") -> str:
    """List names that belong together, or with another last word those to choose from.

    >>> all_of(["fuse", "relay", "coil"]), all_of(["fuse", "relay"], "or"), all_of(["fuse"])
    ('fuse, relay and coil', 'fuse or relay', 'fuse')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"
