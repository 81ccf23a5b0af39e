"""Show what stands out.

Reads     : every table but the curves
Shows     : up to eight sentences, each with its state, its counts and the page that carries it
Empty case: says that nothing stands out, which is a result
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import data, layout, words
from dashboards.answers import short
from dashboards.views import untold
from dashboards.words import STATES, plain

if TYPE_CHECKING:
    from dashboards.answers.said import Standing


def render() -> None:
    """Draw the page."""
    snapshot = data.current()
    records, cars = snapshot.rows("record"), snapshot.rows("vehicle").height
    jobs = records["record_id"].n_unique()
    st.title(f"What stands out, as of {words.day(snapshot.as_of)}", anchor=False)
    since = f" since {records['closed_on'].sort()[0].year}" if records.height else ""
    st.caption(words.first_up(f"{words.count(cars, 'car')} · {words.count(jobs, 'closed job')}{since}"))
    told = short.standing(snapshot)
    if not any(line.state in ("ink", "pencil") for line in told):
        state = short.state_of(snapshot, jobs)
        layout.answer("nothing", short.nothing(jobs, cars), words.evidence(state, [], snapshot.as_of))
    for number, line in enumerate(told):
        _line(number, line)
    if not jobs:
        st.markdown(short.load(snapshot.rows("reorder").height))
    st.divider()
    untold.show(snapshot)


def _line(number: int, line: Standing) -> None:
    symbol, word, _ = STATES[line.state]
    with st.container(key=f"{'blank' if line.state == 'blank' else 'row'}-{number}"):
        left, right = st.columns([6, 1.4], vertical_alignment="center")
        with left.container(gap="xxsmall"):
            st.subheader(plain(line.sentence), anchor=False)
            st.markdown(f":material/{symbol}: **{word}**  ·  :gray[{plain(line.why)}]")
        with right:
            layout.link(line.page, layout.title_of(line.page), **line.choices)
