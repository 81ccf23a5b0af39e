"""Pairs of components that are declared: stated beforehand, or by a record whose reason is that it is a consequence."""

from __future__ import annotations

import polars as pl

BY = ["vehicle_id", "visit_day", "component"]
STATED = {"first": pl.String, "then": pl.String}


def stated_pairs(components: pl.DataFrame) -> pl.DataFrame:
    """Return which component may harm which, as the feed states it: `first`, `then`, a row per pair.

    Parameters
    ----------
    components
        Feed table ``components``; may be empty.

    Examples
    --------
    >>> rows = pl.DataFrame({"component": ["pump", "pump", "hose"], "may_harm": ["valve; belt", "valve", None]})
    >>> stated_pairs(rows).rows()
    [('pump', 'belt'), ('pump', 'valve')]
    """
    pairs = components.select(first="component", then=pl.col("may_harm").str.split(";")).explode("then")
    told = pairs.with_columns(pl.col("then").str.strip_chars())
    return told.filter(pl.col("then") != "", pl.col("then") != pl.col("first")).unique().sort("first", "then")


def named_causes(causes: pl.DataFrame, names: pl.Series) -> pl.DataFrame:
    """Return which component the words of a record's cause name, where they name just one besides its own.

    Parameters
    ----------
    causes
        vehicle_id, visit_day, component, cause; lines whose reason is `consequence`.
    names
        Components.

    Returns
    -------
    polars.DataFrame
        vehicle_id, visit_day, component, by: the component named. Case and punctuation do not count; of two names that
        lie within each other (pump, water pump) the longer one is meant.
    """
    texts = causes.select("cause").drop_nulls().unique().with_columns(text=_plain(pl.col("cause")))
    words = pl.DataFrame({"by": names}).with_columns(word=_plain(pl.col("by")))
    # all names are sought in one reading of each text
    word = pl.col("text").str.extract_many(pl.lit(words["word"]).implode(), overlapping=True)
    found = texts.select("cause", word=word).explode("word", empty_as_null=False).unique().join(words, on="word")
    within = found.join(found, on="cause", suffix="_wider").filter(
        (pl.col("word") != pl.col("word_wider")) & pl.col("word_wider").str.contains(pl.col("word"), literal=True)
    )
    meant = found.join(within.select("cause", "by"), on=["cause", "by"], how="anti")
    return (
        causes.join(meant.select("cause", "by"), on="cause")
        .filter(pl.col("by") != pl.col("component"))
        .group_by(BY)
        .agg(pl.col("by").unique())
        .filter(pl.col("by").list.len() == 1)
        .with_columns(pl.col("by").list.first())
    )


def _plain(text: pl.Expr) -> pl.Expr:
    """Return the words of a text between single blanks, one at either end."""
    return pl.format(" {} ", text.str.to_lowercase().str.replace_all(r"[^\p{L}\p{N}]+", " ").str.strip_chars())


def declared_pairs(events: pl.DataFrame, window: int) -> pl.DataFrame:
    """Return what each record of a consequence says it is a consequence of.

    Parameters
    ----------
    events
        car, visit, kind, from_day, to_day, consequence, named (kind that the record's cause names, or null); a row per
        car, visit and component, sorted by car and day.
    window
        Days after a hand-over within which a fault may be its consequence.

    Returns
    -------
    polars.DataFrame
        event (row number of the consequence), kind (the cause), other (what was harmed), later: whether the cause was
        not on the same visit.

    Notes
    -----
    Where the record's words name no cause, it is the one other component that was faulty on the same visit, or, where
    there is none, the one that was within the window before. Of two, neither is taken.
    """
    numbered = events.with_row_index("event").with_columns(pl.col("event").cast(pl.Int64))
    harmed = numbered.filter("consequence").select("event", "car", "visit", "from_day", "named", other="kind")
    causes = numbered.filter(~pl.col("consequence")).select(
        "car", "kind", cause_visit="visit", cause_from="from_day", cause_to="to_day"
    )
    near = (
        harmed.join(causes, on="car")
        .filter(pl.col("kind") != pl.col("other"))
        .with_columns(later=pl.col("visit") != pl.col("cause_visit"))
        .filter(~pl.col("later") | (pl.col("from_day") - pl.col("cause_to")).is_between(1, window))
    )
    # a cause on the same visit leaves those before it out of question
    guessed = near.filter(pl.col("named").is_null(), pl.col("later") == pl.col("later").min().over("event"))
    alone = guessed.group_by("event").agg(pl.col("kind").unique(), pl.col("other").first(), pl.col("later").first())
    beside = near.filter(pl.col("kind") == pl.col("named"), ~pl.col("later"))["event"]
    named = harmed.drop_nulls("named").select(
        "event", "other", kind="named", later=~pl.col("event").is_in(beside.implode())
    )
    columns = ["event", "kind", "other", "later"]
    single = alone.filter(pl.col("kind").list.len() == 1).with_columns(pl.col("kind").list.first())
    return pl.concat([named.select(columns), single.select(columns)]).sort("event")
