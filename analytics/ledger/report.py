"""What a load did, in numbers and sentences."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from analytics.counting import count

if TYPE_CHECKING:
    from datetime import date

    import polars as pl

COUNTS = ("rows_read", "accepted", "unchanged", "repeated", "revised", "quarantined", "set_aside")
SHOWN = 5
"""So many examples are told; all of them are in the frames."""


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What one load did.

    Attributes
    ----------
    load_id
        Number of the load; None where the same feed had been loaded before and nothing changed.
    source, loaded_on, feed_hash
        The mapping's word for the export; day of loading; hash under which the feed is kept.
    files
        Per table and file of the feed: rows_read = accepted + unchanged + revised + quarantined; repeated (part of
        unchanged: the same row again in this feed) and set_aside (values).
    quarantined
        Rows that went to quarantine now: columns of the quarantine.
    set_aside
        Values set aside now: table, file, row_no, column, value, says.
    missing
        After a complete load: repair lines of this source that the feed no longer brings; none was withdrawn.
    mended, replaced
        Quarantined rows that this feed mended; that it brought in another version, which was quarantined as well.
    waiting
        Rows of the whole ledger that now wait in quarantine.
    latest_day
        Latest day a record of the ledger is dated; None = an analysis has nothing to begin with.
    notes
        What the mapping left unread or renamed.
    cautions
        Sentences on values that were taken and are worth a look.
    put_back
        Whether the load did nothing but put back the kept copy of a feed that was loaded before.
    undone
        Whether every load of that feed was undone.
    """

    load_id: int | None
    source: str
    loaded_on: date
    feed_hash: str
    files: pl.DataFrame
    quarantined: pl.DataFrame
    set_aside: pl.DataFrame
    missing: pl.DataFrame
    mended: int
    replaced: int
    waiting: int
    latest_day: date | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    put_back: bool = False
    undone: bool = False

    @property
    def already_known(self) -> bool:
        """Whether the same feed had been loaded before and nothing changed."""
        return self.load_id is None

    @property
    def can_be_analysed(self) -> bool:
        """Whether the ledger holds a dated record, so that an analysis makes sense."""
        return self.latest_day is not None

    @property
    def next_step(self) -> str:
        """The command that makes sense next."""
        if self.can_be_analysed:
            return "wearledger analyse"
        return "wearledger quarantine" if self.waiting else "wearledger load FOLDER (with table repairs)"

    def count(self, name: str) -> int:
        """Return one of the counts, over all tables and files.

        Parameters
        ----------
        name
            ``rows_read``, ``accepted``, ``unchanged``, ``repeated``, ``revised``, ``quarantined`` or ``set_aside``.
        """
        return int(self.files[name].sum())

    def sentence(self) -> str:
        """Return one line that says what the load did."""
        if self.put_back:
            back = "the kept copy of this feed was missing or damaged and has been put back"
            if self.undone:
                return f"{back}; its load was undone, so nothing of it counts: load it once more to take it"
            return f"already known, nothing changed in the ledger; {back}"
        numbers = (
            f"{count(self.count('rows_read'), 'row')} read: {self.count('accepted')} new, "
            f"{self.count('unchanged')} unchanged, {self.count('revised')} revised, "
            f"{self.count('quarantined')} quarantined"
        )
        if self.count("set_aside"):
            numbers += f"; {count(self.count('set_aside'), 'value set aside')}"
        if self.mended:
            numbers += f"; {self.mended} quarantined before and mended now"
        if self.load_id is None:
            return f"already known, nothing changed; {numbers}"
        return f"load {self.load_id}; {numbers}"

    def warnings(self) -> list[str]:
        """Return the lines a person should read: notes, rows quarantined, values set aside, lines no longer there."""
        lines = [*self.notes, *self.cautions]
        lines += _told(self.quarantined, "to quarantine", "see all with `wearledger quarantine`")
        lines += _told(self.set_aside, "set aside", "see all with `wearledger quarantine --set-aside`")
        if self.missing.height:
            shown = ", ".join(f"{record}/{line}" for record, line in self.missing.select("record_id", "line_no").rows())
            lines.append(
                f"{count(self.missing.height, 'line')} loaded before, not in this complete feed, kept: {_cut(shown)}; "
                "withdraw what is void with `wearledger withdraw RECORD/LINE --reason TEXT`"
            )
        return lines


def odd_quantities(found: pl.DataFrame) -> tuple[str, ...]:
    """Return sentences on quantities far above the usual ones.

    Parameters
    ----------
    found
        Columns of ``odd_quantity.sql``.
    """
    lines = [
        f"{table}, {file} row {row_no}: quantity {quantity:.15g} of {part} is far above the "
        f"{'other quantities of this part' if of_part else 'quantities of other parts'} ({usual:.15g} is usual); "
        "taken as it stands; if it is wrong, correct it in the export and load it again"
        for table, file, row_no, part, quantity, usual, of_part in found.head(SHOWN).rows()
    ]
    return (*lines, *_more(found, "quantity", "quantities", "far above the usual"))


def early_jobs(found: pl.DataFrame) -> tuple[str, ...]:
    """Return sentences on jobs closed before their car was built.

    Parameters
    ----------
    found
        Columns of ``early_job.sql``.
    """
    lines = [
        f"repairs, {file} row {row_no}: closed on {closed_on}, but car {car} was built in {built_in}; taken as it "
        "stands, and the car's age is then not known; a day that stands for `not known` is named under placeholders in "
        "a mapping"
        for file, row_no, car, closed_on, built_in in found.head(SHOWN).rows()
    ]
    return (*lines, *_more(found, "job", "jobs", "closed before the car was built"))


def only_put_back(report: LoadReport, *, undone: bool) -> LoadReport:
    """Return the report of a load that was not taken, because only its kept copy was to be put back."""
    nothing = {name: getattr(report, name).clear() for name in ("files", "quarantined", "set_aside", "missing")}
    return replace(
        report, load_id=None, mended=0, replaced=0, notes=(), cautions=(), put_back=True, undone=undone, **nothing
    )


def _more(found: pl.DataFrame, one: str, several: str, what: str) -> list[str]:
    """Return how many there are besides those shown, if any."""
    more = found.height - SHOWN
    return [f"{count(more, f'more {one}', f'more {several}')} {what}"] if more > 0 else []


def _told(rows: pl.DataFrame, what: str, more: str) -> list[str]:
    lines = [
        f"{what}: {table}, {file} row {row_no}, {column} = {value!r}: {says}"
        for table, file, row_no, column, value, says in rows.select(
            "table", "file", "row_no", "column", "value", "says"
        )
        .head(SHOWN)
        .rows()
    ]
    if rows.height > SHOWN:
        lines.append(f"{what}: {rows.height - SHOWN} more; {more}")
    return lines


def _cut(text: str, width: int = 200) -> str:
    return text if len(text) <= width else text[: width - 2].rsplit(",", 1)[0] + ", …"
