"""Which part for a car that no record knows, from the command line: by serial, build date and series."""

import json
from datetime import date

import pytest

from analytics.cli import main
from analytics.part_asked import built_in

PARTS = """part_no,component,series,serial_from,serial_to,superseded_by,looks_like
T1,thermostat,S2,,B-1199,,T2
T2,thermostat,S2,B-1200,,,
H1,brake hose,,,,H2,
H2,brake hose,S2,,,,
"""
VEHICLES = """vehicle_id,series,serial,built_on
early,S2,B-1003,1975-02-01
late,S2,B-1300,1977-02-01
other,S1,A-1,1970-01-01
"""
REPAIRS = """record_id,vehicle_id,closed_on,component,action,reason,part_no
1,early,2019-02-03,thermostat,replaced,failure,T1
2,late,2019-03-02,thermostat,replaced,failure,T2
3,other,2019-04-02,brake hose,replaced,failure,H1
"""


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    folder = tmp_path_factory.mktemp("asked")
    for name, text in (("parts", PARTS), ("vehicles", VEHICLES), ("repairs", REPAIRS)):
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    data = folder / "data"
    assert main(["load", str(folder), "--data", str(data)]) == main(["analyse", "--data", str(data)]) == 0
    return data


def asked(data, capsys, *words, table="part_for_car"):
    capsys.readouterr()
    code = main(["show", table, *words, "--data", str(data)])
    return code, capsys.readouterr()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--serial", "B-1250"), "thermostat: T2 fits, by its serial; T1 looks the same and does not fit."),
        (("--serial", "B-1199"), "thermostat: T1 fits, by its serial; T2 looks the same and does not fit."),
        (("--series", "S2", "--built", "1974"), "thermostat: T1 fits, by the day it was built; T2 looks the same and"),
        (("--series", "S2", "--built", "1977-03"), "thermostat: T2 fits, by the day it was built; T1 looks the same"),
        (("--series", "S2", "--built", "1976"), "cannot be told from what is known of this car whether T1 fits"),
        (("--series", "S2"), "cannot be told from what is known of this car whether T2 fits"),
    ],
)
def test_a_car_that_is_in_no_record_is_told_its_part_and_warned_of_the_look_alike(data, capsys, words, says):
    code, out = asked(data, capsys, *words)
    assert code == 0
    assert says in out.out


def test_one_kind_of_part_is_asked_for_and_what_is_critical_for_safety_says_so(data, capsys):
    lines = asked(data, capsys, "--serial", "B-1250", "--component", "Brake-Hose")[1].out.splitlines()
    assert lines[0] == (
        "brake hose: H1 fits, as the parts list names no series; order H2, which supersedes it and fits as well."
    )
    assert lines[1] == "brake hose: H2 fits, by its series."
    assert lines[2].startswith("Compare the numbers, not the looks")
    assert lines[3].startswith("brake hose is critical for safety: follow the maker's manual")


def test_other_programs_get_the_same_as_rows(data, capsys):
    rows = json.loads(asked(data, capsys, "--serial", "B-1250", "--format", "json")[1].out)
    assert [(row["part_no"], row["fits"], row["looks_like"]) for row in rows if row["component"] == "thermostat"] == [
        ("T2", "yes", "T1")
    ]
    head = asked(data, capsys, "--serial", "B-1250", "--format", "csv")[1].out.splitlines()[0]
    assert head == "component,position,part_no,live_no,fits,told_by,looks_like,says"


def test_a_car_of_the_records_is_looked_up_as_before(data, capsys):
    assert "T1 fits, by its serial" in asked(data, capsys, "--format", "csv")[1].out


def test_a_series_that_nobody_knows_is_refused_with_the_nearest_one(data, capsys):
    code, out = asked(data, capsys, "--series", "S22")
    assert code == 1
    assert "no car and no part is of a series 'S22'" in out.err
    assert "did you mean S2" in out.err


@pytest.mark.parametrize(
    ("table", "words", "says"),
    [
        ("vehicle", ("--serial", "B-1"), "go with table part_for_car alone"),
        ("part_for_car", ("--built", "May"), "write it like 1978-05-12, 1978-05 or 1978"),
        ("part_for_car", ("--built", "1978-13"), "write it like 1978-05-12, 1978-05 or 1978"),
    ],
)
def test_a_car_described_for_another_table_or_on_no_day_is_wrong_usage(data, capsys, table, words, says):
    with pytest.raises(SystemExit) as ended:
        asked(data, capsys, *words, table=table)
    assert ended.value.code == 2
    assert says in capsys.readouterr().err


def test_without_a_parts_list_it_is_refused_in_words(tmp_path, capsys):
    for name, text in (("vehicles", VEHICLES), ("repairs", REPAIRS)):
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    data = tmp_path / "data"
    assert main(["load", str(tmp_path), "--data", str(data)]) == main(["analyse", "--data", str(data)]) == 0
    code, out = asked(data, capsys, "--serial", "B-1250")
    assert code == 1
    assert "no parts list says what fits which car" in out.err


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("1978", (date(1978, 1, 1), date(1978, 12, 31))),
        ("1978-12", (date(1978, 12, 1), date(1978, 12, 31))),
        ("1978-05-12", (date(1978, 5, 12), date(1978, 5, 12))),
    ],
)
def test_a_build_date_may_be_a_month_or_a_year(text, days):
    assert built_in(text) == days
