"""From someone's columns to native rows: numbered columns, templates, words, units, and what is left out."""

import polars as pl
import pytest

from analytics.errors import FeedError
from analytics.records.blocks import CONTENT_ID
from tests.records.feeds import feed, mapped, rows

JOBS = """
    Job,Car,Day,Work,Odo,Hours,Owner
    11,bus1,2024-05-02,REPL,61000,1.5,Ann
    12,bus1,2024-06-03,,0,,Ann
    13,bus2,2024-07-04,look,12000,0.25,Bob
"""
COLUMNS = 'columns = { record_id = "Job", vehicle_id = "Car", closed_on = "Day" }'


def with_column(native: str, theirs: str) -> str:
    return COLUMNS.replace(" }", f', {native} = "{theirs}" }}')


def repairs(tmp_path, text: str, jobs: str = JOBS) -> pl.DataFrame:
    return mapped(feed(tmp_path, jobs=jobs), f'[[repairs]]\nfile = "jobs.csv"\n{text}').tables["repairs"]


def test_their_columns_become_native_ones_and_the_others_are_named(tmp_path):
    found = mapped(feed(tmp_path, jobs=JOBS), f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS}\ndrop = ["Owner"]\n')
    assert rows(found.tables["repairs"], "record_id", "vehicle_id", "closed_on", "file", "row_no")[0] == (
        "11",
        "bus1",
        "2024-05-02",
        "jobs.csv",
        1,
    )
    assert found.notes == ("jobs.csv: columns not read: Work, Odo, Hours",)


def test_one_file_feeds_several_tables_and_repeated_rows_count_once(tmp_path):
    found = mapped(
        feed(tmp_path, jobs=JOBS),
        f"""
        [[vehicles]]
        file = "jobs.csv"
        distinct = true
        columns = {{ vehicle_id = "Car" }}
        constants = {{ series = "S1", odometer_digits = 6 }}
        [[repairs]]
        file = "jobs.csv"
        {COLUMNS}
        """,
    )
    assert rows(found.tables["vehicles"], "vehicle_id", "series", "odometer_digits", "row_no") == [
        ("bus1", "S1", "6", 1),
        ("bus2", "S1", "6", 3),
    ]
    assert found.tables["repairs"].height == 3
    assert "jobs.csv: 1 row(s) left out: a repetition for vehicles" in found.notes


def test_a_pattern_reads_several_files(tmp_path):
    feed(tmp_path, jobs_a="Car,Day\na,2024-01-01\n", jobs_b="Car,Day\nb,2024-01-02\n")
    found = mapped(tmp_path, '[[repairs]]\nfile = "jobs_*.csv"\ncolumns = { vehicle_id = "Car", closed_on = "Day" }')
    assert rows(found.tables["repairs"], "vehicle_id", "file") == [("a", "jobs_a.csv"), ("b", "jobs_b.csv")]


def test_numbered_columns_become_rows_and_empty_ones_are_counted(tmp_path):
    found = mapped(
        feed(tmp_path, buses="bus,day_1,odo_1,day_2,odo_2\n7,1974-12,100,1980-01,200\n8,1975-01,300,,\n9,,,,\n"),
        """
        [[repairs]]
        file = "buses.csv"
        n = [1, 2]
        columns = { vehicle_id = "bus", closed_on = "day_{n}", odometer = "odo_{n}" }
        templates = { record_id = "{bus}-E{n}" }
        units = { odometer = "mi" }
        skip_empty = ["closed_on"]
        """,
    )
    table = found.tables["repairs"]
    assert rows(table, "record_id", "closed_on", "odometer", "odometer_unit", "row_no") == [
        ("7-E1", "1974-12", "100", "mi", 1),
        ("7-E2", "1980-01", "200", "mi", 1),
        ("8-E1", "1975-01", "300", "mi", 2),
    ]
    assert found.notes == (
        "buses.csv: 3 row(s) left out: no closed_on",
        "buses.csv: 1 whole row(s) of the file left out with them: no closed_on in any column",
    )


def test_rule_05_a_template_takes_the_year_of_the_job_into_its_number(tmp_path):
    text = 'columns = { vehicle_id = "Car", closed_on = "Day" }\ntemplates = { record_id = "{year}/{Job}" }'
    assert repairs(tmp_path, text)["record_id"].to_list() == ["2024/11", "2024/12", "2024/13"]


def test_the_year_is_that_of_the_date_after_its_order_was_read(tmp_path):
    text = (
        'date_order = "dmy"\ncolumns = { vehicle_id = "C", closed_on = "D" }\ntemplates = { record_id = "{year}-{C}" }'
    )
    assert repairs(tmp_path, text, "C,D\na,31.12.1999\n")["record_id"].to_list() == ["1999-a"]


def test_value_lists_turn_their_words_into_ours_whatever_the_case(tmp_path):
    text = f"""{with_column("action", "Work")}
        [repairs.values.action]
        repl = "replaced"
        LOOK = "inspected"
        "" = "none"
        """
    assert repairs(tmp_path, text)["action"].to_list() == ["replaced", "none", "inspected"]


def test_a_star_stands_for_every_other_word_but_not_for_an_empty_one(tmp_path):
    text = f"""{with_column("reason", "Work")}
        [repairs.values.reason]
        repl = "failure"
        "*" = "planned"
        """
    assert repairs(tmp_path, text)["reason"].to_list() == ["failure", None, "planned"]


def test_words_that_are_not_listed_stay_to_be_judged(tmp_path):
    text = with_column("action", "Work") + '\n[repairs.values.action]\nrepl = "replaced"\n'
    assert repairs(tmp_path, text)["action"].to_list() == ["replaced", None, "look"]


def test_placeholders_mean_empty(tmp_path):
    text = with_column("odometer", "Odo") + '\nplaceholders = { odometer = ["0", "999999"] }'
    assert repairs(tmp_path, text)["odometer"].to_list() == ["61000", None, "12000"]


def test_a_stated_unit_goes_with_every_figure_and_only_with_figures(tmp_path):
    text = with_column("odometer", "Odo") + ('\nunits = { odometer = "mi" }\nplaceholders = { odometer = ["0"] }')
    assert repairs(tmp_path, text)["odometer_unit"].to_list() == ["mi", None, "mi"]


def test_hours_become_minutes(tmp_path):
    text = with_column("labour_minutes", "Hours") + '\nunits = { labour_minutes = "h" }'
    assert repairs(tmp_path, text)["labour_minutes"].cast(pl.Float64).to_list() == [90.0, None, 15.0]


def test_where_and_skip_keep_and_leave_rows_and_are_counted(tmp_path):
    found = mapped(
        feed(tmp_path, jobs=JOBS),
        f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS}\nwhere = {{ Car = ["bus1"] }}\nskip = {{ Work = [""] }}\n',
    )
    assert found.tables["repairs"]["record_id"].to_list() == ["11"]
    assert "jobs.csv: 2 row(s) left out: by Car, Work, as the mapping says" in found.notes


def test_text_rules_fill_what_the_column_leaves_empty(tmp_path):
    text = f"""{with_column("action", "Work")}
        [repairs.values.action]
        repl = "replaced"
        look = "inspected"
        [repairs.text.action]
        from = "Car"
        rules = [["bus", "adjusted"]]
        """
    assert repairs(tmp_path, text)["action"].to_list() == ["replaced", "adjusted", "inspected"]


def test_without_a_number_the_content_gives_one_that_stays_the_same(tmp_path):
    text = 'columns = { vehicle_id = "Car", closed_on = "Day" }'
    first = repairs(tmp_path, text, "Car,Day,Note\na,2024-01-01,x\nb,2024-01-01,y\n")["record_id"].to_list()
    again = repairs(tmp_path, text, "Note,Day,Car\nz,2024-01-01,b\nx,2024-01-01,a\n")["record_id"].to_list()
    assert all(number.startswith(CONTENT_ID) for number in first)
    assert first == again[::-1]
    assert len(set(first)) == 2


def test_the_columns_that_make_up_the_content_may_be_stated(tmp_path):
    text = 'columns = { vehicle_id = "Car", closed_on = "Day" }\ncontent_id = ["Car", "Day", "Note"]'
    found = repairs(tmp_path, text, "Car,Day,Note\na,2024-01-01,x\na,2024-01-01,y\n")
    assert found["record_id"].n_unique() == 2


def test_rule_12_identical_lines_without_numbers_are_lines_of_one_job_and_all_kept(tmp_path):
    text = 'columns = { vehicle_id = "Car", closed_on = "Day" }'
    found = repairs(tmp_path, text, "Car,Day\na,2024-01-01\nb,2024-01-01\na,2024-01-01\n")
    assert found["record_id"][0] == found["record_id"][2] != found["record_id"][1]
    assert found["line_no"].to_list() == ["1", "1", "2"]


def test_lines_of_one_job_are_numbered_within_car_and_day(tmp_path):
    jobs = "Job,Car,Day\n17,a,2023-02-01\n17,a,2023-02-01\n17,b,2024-02-01\n"
    found = mapped(feed(tmp_path, jobs=jobs), f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS}')
    assert found.tables["repairs"]["line_no"].to_list() == ["1", "2", "1"]
    assert "repairs: 1 line(s) have the record_id and line_no of another one" in found.notes


def test_rows_that_cannot_be_split_go_to_the_jobs_once(tmp_path):
    found = mapped(
        feed(tmp_path, jobs="Car,Day\na,2024-01-01\nb\n"),
        """
        [[vehicles]]
        file = "jobs.csv"
        distinct = true
        columns = { vehicle_id = "Car" }
        constants = { series = "S" }
        [[repairs]]
        file = "jobs.csv"
        columns = { vehicle_id = "Car", closed_on = "Day" }
        """,
    )
    assert rows(found.tables["repairs"], "row_no", "unread") == [(1, None), (2, "1 field where the heading has 2")]
    assert "unread" not in found.tables["vehicles"].columns


def refusal(tmp_path, text: str, **files: str) -> FeedError:
    with pytest.raises(FeedError) as caught:
        mapped(feed(tmp_path, **(files or {"jobs": JOBS})), text)
    assert caught.value.where.startswith("mapping.toml")
    return caught.value


def test_a_column_the_file_does_not_have_is_refused_with_those_it_has(tmp_path):
    caught = refusal(tmp_path, f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS.replace("Day", "Date")}')
    assert caught.what == "jobs.csv has no column Date"
    assert "Job, Car, Day, Work" in caught.next_step


@pytest.mark.parametrize(
    "text", ['drop = ["Colour"]', 'where = { Colour = ["x"] }', 'content_id = ["Colour"]', 'skip = { Colour = ["x"] }']
)
def test_every_list_may_name_only_columns_of_the_file(tmp_path, text):
    assert "Colour" in refusal(tmp_path, f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS}\n{text}').what


def test_a_dropped_column_cannot_be_used(tmp_path):
    assert "dropped and used" in refusal(tmp_path, f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS}\ndrop = ["Car"]').what


def test_a_file_that_is_not_there_is_refused_before_anything_is_read(tmp_path):
    text = f'[[repairs]]\nfile = "jobs.csv"\n{COLUMNS}\n[[readings]]\nfile = "odo.csv"\n'
    text += 'columns = { vehicle_id = "Car", read_on = "Day", odometer = "Odo" }'
    assert refusal(tmp_path, text).what == "there is no file odo.csv in the feed"
