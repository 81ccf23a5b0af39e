"""Sentences do not drift: every template against frozen input."""

from datetime import date

import pytest

from dashboards import words as w

UNTIL = date(2026, 11, 24)


@pytest.mark.parametrize(
    ("got", "want"),
    [
        (w.two(0), "0"),
        (w.two(0.0345), "0.035"),
        (w.two(9.96), "10"),
        (w.two(163), "160"),
        (w.two(3.04), "3.0"),
        (w.two(12_345), "12\u202f000"),
        (w.whole(3482), "3482"),
        (w.whole(1_234_567.4), "1\u202f234\u202f567"),
        (w.count(0, "failure"), "no failures"),
        (w.count(1, "failure"), "one failure"),
        (w.count(13, "failure"), "13 failures"),
        (w.times(1), "once"),
        (w.times(3), "three times"),
        (w.day(UNTIL), "24 Nov 2026"),
        (w.reach(31, "age"), "31 days"),
        (w.reach(61, "age"), "2 months"),
        (w.span(30, 30, "age"), "30 days within rounding"),
        (w.reach(365, "age"), "1 year"),
        (w.reach(7 * 365.25, "age"), "7 years"),
        (w.reach(8.83 * 365.25, "age"), "8.8 years"),
        (w.reach(523 * 365.25, "age"), "520 years"),
        (w.reach(64_321, "distance"), "64\u202f000 km"),
        (w.span(5.4 * 365.25, 12 * 365.25, "age"), "could be 5.4 to 12 years"),
        (w.span(1 * 365.25, 3 * 365.25, "age"), "could be 1 to 3 years"),
        (w.span(200, 1200, "age"), "could be 7 months to 3.3 years"),
        (w.span(41_000, 90_000, "distance"), "could be 41\u202f000 to 90\u202f000 km"),
    ],
)
def test_numbers(got, want):
    assert got == want


@pytest.mark.parametrize(
    ("got", "want"),
    [
        (
            w.fails_within(0.65, (0.47, 0.79), "3 years"),
            "About 7 of 20 such parts fail within 3 years (could be 4 to 11).",
        ),
        (
            w.fails_within(0.99, (0.88, 1.0), "2 years"),
            "Fewer than 1 of 20 such parts fail within 2 years (could be 0 to 3).",
        ),
        (w.fails_within(0.01, None, "9 years", "of SL-7101"), "Nearly all 20 of SL-7101 fail within 9 years."),
        (w.fails_within(0.0, None, "9 years"), "About 20 of 20 such parts fail within 9 years."),
        (
            w.at_least(0.46, "12 years"),
            "At least 9 of 20 such parts last longer than 12 years; how much longer, the records do not say.",
        ),
        (
            w.at_least(0.01, "12 years"),
            "How many of 20 such parts last longer than 12 years, the records do not say.",
        ),
        (
            w.still_work("8 years", ("SL-7102", 0.86), ("SL-7101", 0.42)),
            "After 8 years 17 of 20 of SL-7102 still work, 8 of SL-7101.",
        ),
        (
            w.no_failure(210, 1.72),
            "No failure seen in 210 years of watching. The true rate could still be up to 1.7 a year in 100 "
            "such parts.",
        ),
        (w.no_failure(210, None), "No failure seen in 210 years of watching."),
        (
            w.too_little(1, 9, 3),
            "Too little to say: one failure among nine parts. With two more failures a curve of its own can be drawn.",
        ),
        (w.of_needed(3, 5), "3 of the 5 failures needed for a firm figure: two more failures to go."),
        (
            w.borrowed(2, "rubber, group B", 6, 41),
            "Pencilled in. With only two failures of its own, this part borrows from its family, rubber, "
            "group B: 41 failures over six components.",
        ),
        (
            w.borrowed(0, "hoses", 4, 9),
            "Pencilled in. Without a failure of its own, this part borrows from its family, hoses: nine "
            "failures over four components.",
        ),
        (w.thin_tail("11 years", 5), "Beyond 11 years fewer than five were still being watched: do not lean on it."),
        (w.untimed(1), "One failure of a part of unknown age counts in the curve and has no tick."),
        (w.untimed(10), "Ten failures of parts of unknown age count in the curve and have no tick."),
        (
            w.safety_critical("brake hose"),
            "No remaining life is shown for brake hose. Inspect by the maker's manual.",
        ),
        (
            w.times_expected(14, 11, 4.3, 2.5, (1.5, 4.1)),
            "a fault on 14 visits of eleven cars, where about 4.3 would be chance: after allowing for luck 2.5 times "
            "as many (could be 1.5 to 4.1 times).",
        ),
        (w.stock(6, 4, 1), "the 6 on the shelf and 4 on order, less 1 reserved,"),
        (
            w.runs_out(11, "the 6 on the shelf", 6, 2),
            "Order 6. In 11 of 20 outlooks the 6 on the shelf run out before the next delivery. Ordering 6 "
            "brings that down to 2 of 20.",
        ),
        (w.needs(0, 30, 0.9), "No stock count is known. In 18 of 20 outlooks no part is needed within 30 days."),
        (
            w.needs(3, 54.6, 0.99),
            "No stock count is known. In 99 of 100 outlooks at most three parts are needed within 55 days.",
        ),
        (
            w.runs_out(1, "the 6 on the shelf", 0, 1),
            "Order nothing now. In 1 of 20 outlooks the 6 on the shelf run out before the next delivery.",
        ),
        (
            w.runs_out(2, "the 6 on the shelf", 1, 2),
            "Order 1. In 2 of 20 outlooks the 6 on the shelf run out before the next delivery. Ordering 1 "
            "leaves that 2 of 20.",
        ),
    ],
)
def test_sentences(got, want):
    assert got == want


@pytest.mark.parametrize("share", [0.0, 0.024, 0.025, 0.1, 0.475, 0.5, 0.525, 0.975, 1.0])
def test_what_fails_and_what_still_works_add_up_to_twenty(share):
    sentence = w.fails_within(share, None, "3 years")
    failed = 20 - w.still(share)
    assert sentence.startswith(("Fewer than 1", "Nearly all")) or f"About {failed} of 20" in sentence


def test_an_interval_is_rounded_outwards():
    assert w.could_be(0.051, 0.949) == "could be 1 to 19"
    assert w.could_be(0.05, 0.95) == "could be 1 to 19"


def test_the_evidence_line_says_the_state_in_word_and_symbol():
    line = w.evidence("ink", ["**35 failures**", "63 parts"], UNTIL)
    assert line == (
        ":material/ink_pen: **in ink**, from these records alone  ·  **35 failures**  ·  63 parts"
        "  ·  records to 24 Nov 2026"
    )


def test_names_are_shown_as_written_whatever_signs_they_hold():
    assert w.plain("hose *8* [mm] $x$ :red[no] <b>") == r"hose \*8\* \[mm\] \$x\$ \:red\[no\] \<b\>"


def test_a_number_and_its_unit_stay_on_one_line():
    assert w.unbroken("9 of 20 last 12 years, 3 cars") == "9\u00a0of 20 last 12\u00a0years, 3 cars"


def test_the_pencil_says_whether_a_figure_is_thin_or_borrowed():
    assert "**in pencil**, few records stand behind it" in w.evidence("pencil", [], UNTIL)
    assert "**in pencil**, borrowed from its family" in w.evidence("pencil", [], UNTIL, w.BORROWED)


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 of 100"),
        (1e-9, "fewer than 1 of 100"),
        (0.25, "25 of 100"),
        (0.994, "99 of 100"),
        (0.996, "more than 99 of 100"),
        (0.999999, "more than 99 of 100"),
        (1.0, "100 of 100"),
    ],
)
def test_a_share_reads_as_none_or_all_only_where_it_is(share, said):
    assert w.of_hundred(share) == said


def test_one_takes_the_verb_of_one():
    assert w.fails_within(0.95, None, "7 years") == "About 1 of 20 such parts fails within 7 years."
    assert w.fails_within(0.9, None, "7 years") == "About 2 of 20 such parts fail within 7 years."
    assert w.at_least(0.05, "7 years").startswith("At least 1 of 20 such parts lasts longer")
    assert " the 1 on the shelf runs out " in w.runs_out(3, w.stock(1, 0, 0), 0, 3)
    assert " a part is needed from the empty shelf before " in w.runs_out(3, w.stock(0, 0, 0), 0, 3)
    assert " the 2 on the shelf run out " in w.runs_out(3, w.stock(2, 0, 0), 0, 3)
    assert " the 1 on the shelf and 1 on order run out " in w.runs_out(3, w.stock(1, 1, 0), 0, 3)
    assert w.needs(1, 1.0, 0.9).endswith("at most one part is needed within 1 day.")
