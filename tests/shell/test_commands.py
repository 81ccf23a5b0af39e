"""The commands as a user meets them: what they print, where, and with which exit code."""

import json

import polars as pl
import pytest

from analytics.cli import main
from tests.snapshot_tables import table

MAPPED = """source = "shop"
[[repairs]]
file="repairs.csv"
columns={record_id="record_id", vehicle_id="vehicle_id", closed_on="closed_on"}
"""


@pytest.fixture
def feed(tmp_path):
    """Write a small feed of two cars and return its folder."""
    folder = tmp_path / "feed"
    folder.mkdir()
    (folder / "vehicles.csv").write_text("vehicle_id,series,built_on\na,S1,1975-03-01\nb,S2,1980\n")
    lines = [
        "record_id,vehicle_id,opened_on,closed_on,component,action,reason,note",
        "1,a,2019-02-01,2019-02-03,hose,replaced,failure,=1+1",
        "2,b,2019-03-01,2019-03-02,pump,exchanged,failure,",
        "3,a,2021-05-01,2021-05-04,hose,replaced,failure,",
    ]
    (folder / "repairs.csv").write_text("\n".join(lines) + "\n")
    return folder


def run(data_dir, *words):
    return main([*words, "--data", str(data_dir)])


def refused(capsys, code):
    out = capsys.readouterr()
    assert code == 1
    assert "Traceback" not in out.err
    assert "refused: " in out.err
    assert "next:" in out.err
    return out.err


def test_load_analyse_show_history_export_and_doctor(feed, tmp_path, capsys):
    data = tmp_path / "data"
    assert run(data, "load", str(feed)) == 0
    assert run(data, "analyse") == 0
    assert "as of 2021-05-04" in capsys.readouterr().out
    assert run(data, "show", "vehicle") == 0
    assert "S1" in capsys.readouterr().out
    assert run(data, "show", "record", "--component", "pump", "--format", "json") == 0
    assert [row["record_id"] for row in json.loads(capsys.readouterr().out)] == ["2"]
    assert run(data, "history", "a") == 0
    assert "hose: replaced (failure)" in capsys.readouterr().out
    assert run(data, "history", "a", "--to", str(tmp_path / "a.html")) == 0
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert "hose: replaced (failure)" in page
    assert "http" not in page
    assert run(data, "export", "--to", str(tmp_path / "out")) == 0
    assert pl.read_parquet(tmp_path / "out" / "record.parquet").height == 3
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    described = {r["path"]: [f["name"] for f in r["schema"]["fields"]] for r in package["resources"]}
    for path, names in described.items():
        header = (tmp_path / "out" / path).read_text(encoding="utf-8").splitlines()[0].split(",")
        assert header[: len(names)] == names
    capsys.readouterr()
    assert run(data, "doctor") == 0
    assert "all good" in capsys.readouterr().out


def test_the_same_file_twice_changes_nothing_and_the_same_analysis_is_the_same_snapshot(feed, tmp_path, capsys):
    data = tmp_path / "data"
    for command in (("load", str(feed)), ("analyse",), ("load", str(feed)), ("analyse",)):
        assert run(data, *command) == 0
    assert "nothing new to write" in capsys.readouterr().out
    assert len(list((data / "snapshots").glob("*.duckdb"))) == 1


def test_an_analysis_as_of_an_earlier_day_knows_nothing_later(feed, tmp_path):
    data = tmp_path / "data"
    run(data, "load", str(feed))
    assert run(data, "analyse", "--as-of", "2019-12-31") == 0
    assert table(data, "record")["record_id"].to_list() == ["1", "2"]


def test_a_record_is_withdrawn_a_load_undone_and_the_ledger_built_again(feed, tmp_path, capsys):
    data = tmp_path / "data"
    run(data, "load", str(feed))
    assert run(data, "withdraw", "2", "--reason", "entered twice") == 0
    run(data, "analyse")
    assert table(data, "record")["record_id"].to_list() == ["1", "3"]
    (feed / "repairs.csv").write_text("record_id,vehicle_id,closed_on\n9,a,2022-01-01\n")
    run(data, "load", str(feed))
    assert run(data, "undo", "2") == 0
    assert run(data, "rebuild") == 0
    run(data, "analyse")
    assert table(data, "record")["record_id"].to_list() == ["1", "3"]
    assert run(data, "doctor") == 0
    capsys.readouterr()
    assert "no load 7" in refused(capsys, run(data, "undo", "7"))
    refused(capsys, run(data, "withdraw", "77", "--reason", "x"))


def test_a_bad_value_is_told_on_stderr_and_the_rest_is_loaded(feed, tmp_path, capsys):
    with (feed / "repairs.csv").open("a") as file:
        file.write("4,a,2021-06-01,someday,hose,replaced,failure,\n5,zz,2021-06-01,2021-06-02,hose,replaced,failure,\n")
    data = tmp_path / "data"
    assert run(data, "load", str(feed)) == 0
    out = capsys.readouterr()
    assert "in all: 2 rows quarantined, 0 values set aside" in out.err
    assert run(data, "quarantine") == 0
    listed = capsys.readouterr().out
    assert "someday" in listed
    assert "zz" in listed
    assert run(data, "quarantine", "--to", str(tmp_path / "mend.xlsx")) == 0
    assert (tmp_path / "mend.xlsx").exists()
    run(data, "analyse")
    assert table(data, "record").height == 3


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("repairs.csv", b""),
        ("repairs.csv", b"record_id,vehicle_id,opened_on\n1,a,2019-01-01\n"),
        ("repairs.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00"),
        ("repairs.xlsx", b"no workbook"),
        ("repairs.parquet", b"no parquet"),
    ],
)
def test_what_is_no_table_is_refused_and_nothing_is_loaded(feed, tmp_path, capsys, name, content):
    (feed / "repairs.csv").unlink()
    (feed / name).write_bytes(content)
    data = tmp_path / "data"
    assert name in refused(capsys, run(data, "load", str(feed)))
    assert not (data / "ledger.duckdb").exists() or "no dated record" in refused(capsys, run(data, "analyse"))


@pytest.mark.parametrize(
    ("mapping", "says"),
    [
        (MAPPED.replace('"record_id"', '"number"'), "number"),
        (MAPPED + 'units={odometer="furlongs"}\n', "furlongs"),
        ("nonsense = [", "TOML"),
        ("colour = 1\n", "colour"),
    ],
)
def test_a_mapping_that_cannot_be_followed_is_refused(feed, tmp_path, capsys, mapping, says):
    file = tmp_path / "m.toml"
    file.write_text(mapping)
    data = tmp_path / "data"
    assert says in refused(capsys, run(data, "load", str(feed), "--mapping", str(file)))
    assert not (data / "ledger.duckdb").exists()


def test_a_missing_feed_ledger_snapshot_table_or_car_is_refused_in_words(feed, tmp_path, capsys):
    data = tmp_path / "data"
    refused(capsys, run(data, "load", str(tmp_path / "nowhere")))
    refused(capsys, run(data, "analyse"))
    refused(capsys, run(data, "show", "vehicle"))
    run(data, "load", str(feed))
    run(data, "analyse")
    capsys.readouterr()
    assert "choose one of" in refused(capsys, run(data, "show", "lives"))
    assert "for example" in refused(capsys, run(data, "history", "nobody"))
    assert "no record is dated" in refused(capsys, run(data, "analyse", "--as-of", "1990-01-01"))


def test_wrong_usage_is_exit_code_2(tmp_path):
    for words in (["load"], ["analyse", "--as-of", "yesterday"], ["paint"]):
        with pytest.raises(SystemExit) as stopped:
            run(tmp_path, *words)
        assert stopped.value.code == 2


def test_a_dry_run_loads_nothing(feed, tmp_path, capsys):
    data = tmp_path / "data"
    assert run(data, "load", str(feed), "--dry-run") == 0
    assert "repairs" in capsys.readouterr().out
    assert not data.exists()


def test_the_demo_does_not_mix_into_a_ledger_of_ones_own(feed, tmp_path, capsys):
    data = tmp_path / "data"
    run(data, "load", str(feed))
    capsys.readouterr()
    assert "of your own" in refused(capsys, run(data, "demo", "--no-dashboard"))


def test_a_cell_that_looks_like_a_formula_is_neutralised_in_csv(tmp_path, capsys):
    folder = tmp_path / "feed"
    folder.mkdir()
    (folder / "vehicles.csv").write_text("vehicle_id,series\n=cmd(),S1\n")
    (folder / "repairs.csv").write_text("record_id,vehicle_id,closed_on\n1,=cmd(),2020-01-01\n")
    data = tmp_path / "data"
    run(data, "load", str(folder))
    run(data, "analyse")
    capsys.readouterr()
    run(data, "show", "vehicle", "--format", "csv")
    assert "\n'=cmd()," in capsys.readouterr().out


def test_an_analysis_whose_progress_nobody_reads_is_published_all_the_same(feed, tmp_path, monkeypatch):
    class Closed:
        def write(self, _):
            raise BrokenPipeError

        def flush(self):
            raise BrokenPipeError

    data = tmp_path / "data"
    run(data, "load", str(feed))
    monkeypatch.setattr("sys.stderr", Closed())
    assert run(data, "analyse") == 0
    assert table(data, "record").height == 3
