"""What closed jobs tell of complaints: causes, shares, nothing found, the time of checks, readings."""

from analytics.spells.complaints import read_complaints
from tests.spells.history_of import car, history, job

SAID = "no charge"
COLUMNS = ("complaint", "component", "outcome", "weight")


def told(*lines, columns=COLUMNS, **tables):
    cars = {line["vehicle_id"] for line in lines}
    tables = {"vehicles": [car(each) for each in sorted(cars)], **tables}
    return read_complaints(history(repairs=list(lines), **tables)).cause.select(columns).rows()


def test_the_line_with_the_complaint_tells_its_cause():
    assert told(job("2019-02-01", "battery", symptom=SAID)) == [(SAID, "battery", "found", 2520)]


def test_spellings_in_capitals_and_blanks_are_one_complaint_in_the_commonest_one():
    lines = [
        job(f"2019-0{n}-01", "battery", symptom=text) for n, text in enumerate(("No  charge", SAID, " no charge"), 1)
    ]
    assert {row[0] for row in told(*lines)} == {SAID}


def test_lines_of_one_cause_on_one_visit_are_one_job():
    # as a burst of lines on one order; the second order overlaps the first, so it is the same visit (rule 2)
    first = [
        job("2019-02-04", "battery", symptom=SAID, opened_on="2019-02-01", record_id="R", line_no=n) for n in (1, 2, 3)
    ]
    again = job("2019-02-03", "battery", symptom=SAID, record_id="Q")
    assert told(*first, again) == [(SAID, "battery", "found", 2520)]


def test_two_causes_share_a_job():
    lines = [
        job("2019-02-01", each, symptom=SAID, record_id="R", line_no=n) for n, each in enumerate(("battery", "fuse"), 1)
    ]
    assert sorted(told(*lines)) == [(SAID, "battery", "found", 1260), (SAID, "fuse", "found", 1260)]


def test_a_line_without_words_answers_the_complaint_of_its_order():
    spoken = job("2019-02-01", None, symptom=SAID, reason=None, action="none", record_id="R")
    mended = job("2019-02-01", "battery", record_id="R", line_no=2)
    seen = job("2019-02-01", "hose", reason="found at inspection", record_id="R", line_no=3)
    other = job("2019-02-01", "wiper", came_for=False, record_id="R", line_no=4)
    assert told(spoken, mended, seen, other) == [(SAID, "battery", "found", 2520)]


def test_where_a_line_tells_its_own_cause_the_others_of_the_order_do_not():
    lines = [
        job("2019-02-01", "battery", symptom=SAID, record_id="R"),
        job("2019-02-01", "hose", record_id="R", line_no=2),
    ]
    assert told(*lines) == [(SAID, "battery", "found", 2520)]


def test_nothing_found_and_no_cause_named_are_jobs_without_a_cause():
    none = job("2019-02-01", "battery", symptom=SAID, reason="no fault found", action="inspected")
    unnamed = job("2019-05-01", None, symptom="hums", reason="failure", action="repaired")
    assert sorted(told(none, unnamed)) == [
        ("hums", None, "no cause named", 0),
        (SAID, "battery", "no fault found", 0),
    ]


def test_what_an_accident_did_or_was_planned_answers_no_complaint():
    hit = job("2019-02-01", "hub", symptom="hit the kerb", reason="accident")
    due = job("2019-03-01", "hose", symptom="service", reason="planned")
    assert told(hit, due) == []


def test_rule_24_the_check_order_reads_orders_after_the_last_neutral_visit_too():
    # the car never came for anything else: its failures end no spell, and count here all the same
    lines = [job(f"201{n}-02-01", "battery", symptom=SAID) for n in range(4)]
    assert len(told(*lines)) == 4


def test_the_job_is_dated_by_its_visit_and_closed_by_its_order():
    line = job("2019-02-09", "battery", symptom=SAID, opened_on="2019-02-01", location="bay")
    rows = told(line, columns=("record", "vehicle_id", "series", "came_on", "closed_on", "location"))
    assert [tuple(map(str, row)) for row in rows] == [("R1/1", "A", "S1", "2019-02-01", "2019-02-09", "bay")]


def test_what_a_check_takes_is_the_longest_of_its_positions_and_the_median_of_inspections():
    places = [
        {"component": "hose", "position": p, "system": "cooling", "check_minutes": m, "location": where}
        for p, m, where in (("top", 4, "bay"), ("bottom", 9, "arch"))
    ]
    looks = [
        job(f"2019-0{n}-01", "fuse", action="inspected", reason="planned", labour_minutes=m)
        for n, m in enumerate((5, 7, 30), 1)
    ]
    looks.append(job("2019-01-01", vehicle_id="B"))
    facts = read_complaints(history(components=places, repairs=looks, vehicles=[car(), car("B", "S2")])).fact.to_dicts()
    found = {(f["component"], f["series"]): (f["check_minutes"], f["inspected_minutes"], f["locations"]) for f in facts}
    assert found["hose", "S1"] == (9.0, None, ["arch", "bay"])
    assert found["fuse", "S1"] == (None, 7.0, [])
    assert found["fuse", "S2"] == (None, 7.0, [])  # nobody declared on which series it is


def test_a_declared_component_is_on_the_series_declared_and_where_it_was_recorded():
    parts = [{"component": "ram", "series": "S2", "system": "ride height"}]
    lines = [
        job("2019-01-01", vehicle_id="A"),
        job("2019-01-01", vehicle_id="B"),
        job("2019-01-01", "ram", vehicle_id="C"),
    ]
    cars = [car("A", "S1"), car("B", "S2"), car("C", "S3")]
    facts = read_complaints(history(components=parts, repairs=lines, vehicles=cars)).fact
    assert facts.filter(facts["component"] == "ram")["series"].to_list() == ["S2", "S3"]


def test_readings_are_taken_as_written():
    line = job("2019-02-01", "battery", measured=12.4, measured_unit=" V ")
    reading = read_complaints(history(repairs=[line, job("2019-03-01")])).reading
    assert reading.select("component", "measured", "measured_unit").rows() == [("battery", 12.4, "V")]
