"""What leaves a snapshot for other eyes: no life of a safety-critical part, in no format."""

import json

import duckdb
import polars as pl
import pytest

from analytics.cli import main
from analytics.snapshot import latest_path, open_snapshot, read_table, read_told, safety_critical

LIVES = ("life", "life10", "life50")
CURVES = ("survival_curve", "life_survival")


@pytest.fixture(scope="module")
def critical(demo_dir):
    """Names of the demo's safety-critical components, which do have fits inside the snapshot."""
    with open_snapshot(latest_path(demo_dir)) as connection:
        names = safety_critical(connection)
        fitted = read_table(connection, "life_model", safety_critical=True).filter(pl.col("life50").is_not_null())
    assert fitted.height > 0, "the fits are computed: stock needs them"
    return names


def shown(demo_dir, capsys, table, *words):
    capsys.readouterr()
    assert main(["show", table, "--format", "json", *words, "--data", str(demo_dir)]) == 0
    out = capsys.readouterr()
    return pl.DataFrame(json.loads(out.out), infer_schema_length=None), out.err


def lives_told(frame):
    columns = [c for c in frame.columns if c.startswith(LIVES) or c == "median_interval_days"]
    return frame.filter(pl.any_horizontal(pl.col(columns).is_not_null()))


def test_rule_39_show_tells_no_life_of_a_safety_critical_part(demo_dir, critical, capsys):
    models, said = shown(demo_dir, capsys, "life_model")
    gaps, _ = shown(demo_dir, capsys, "failure_interval")
    choices, _ = shown(demo_dir, capsys, "sensitivity")
    for frame in (models, gaps, choices):
        of_them = frame.filter(pl.col("component").is_in(critical))
        assert of_them.height > 0
        assert lives_told(of_them).is_empty()
        assert lives_told(frame.filter(~pl.col("component").is_in(critical))).height > 0
    assert models.filter(pl.col("component").is_in(critical))["status"].unique().to_list() == ["safety-critical"]
    assert f"no life is shown of what is critical for safety: {', '.join(critical)}" in said
    for name in CURVES:
        curve, _ = shown(demo_dir, capsys, name)
        assert curve.height > 0
        assert curve.filter(pl.col("component").is_in(critical)).is_empty()
    assert shown(demo_dir, capsys, "survival_curve", "--component", critical[0])[0].is_empty()


def test_rule_39_export_tells_no_life_of_a_safety_critical_part(demo_dir, critical, tmp_path, capsys):
    assert main(["export", "--to", str(tmp_path), "--data", str(demo_dir)]) == 0
    assert critical[0] in capsys.readouterr().err
    for name in (*CURVES, "life_model", "failure_interval", "sensitivity"):
        for frame in (
            pl.read_parquet(tmp_path / f"{name}.parquet"),
            pl.read_csv(tmp_path / f"{name}.csv", infer_schema_length=None),
        ):
            of_them = frame.filter(pl.col("component").is_in(critical))
            assert of_them.is_empty() if name in CURVES else lives_told(of_them).is_empty()


def test_every_table_with_a_life_in_it_is_known_to_the_one_door(demo_dir, critical):
    """A column added later that looks like a life must be withheld too, or be named here with a reason."""
    harmless = {
        "life_model": {"shape", "shape_lower", "shape_upper", "unit_time", "rate_upper", "failures", "units"},
        "reading_drift": {"median"},  # of volts or bar at checks
    }
    with open_snapshot(latest_path(demo_dir)) as connection:
        for (name,) in connection.execute("select table_name from information_schema.tables").fetchall():
            frame = read_told(connection, name)
            if "component" not in frame.columns:
                continue
            telling = {c for c in frame.columns if "life" in c or "median" in c or "survival" in c}
            of_them = frame.filter(pl.col("component").is_in(critical))
            for column in telling - harmless.get(name, set()) - {"median_status"}:
                assert of_them[column].is_null().all(), (name, column)


def test_rule_39_how_soon_a_safety_critical_part_fails_after_another_is_told_nowhere(demo_dir, critical, capsys):
    pairs, _ = shown(demo_dir, capsys, "follow_on")
    of_them = pl.col("then").is_in(critical)
    assert pairs.filter(of_them)["median_days"].is_null().all()
    assert pairs.filter(of_them)["median_status"].unique().to_list() == ["safety-critical"]
    assert pairs.filter(of_them)["n_first_then"].sum() > 0
    assert pairs.filter(~of_them, pl.col("n_first_then") > 0)["median_days"].is_not_null().all()


def test_a_pair_is_shown_by_either_of_its_components(demo_dir, capsys):
    pairs, _ = shown(demo_dir, capsys, "follow_on", "--component", "Thermostat")
    assert (
        pairs.filter(pl.col("first") == "thermostat").height == pairs.filter(pl.col("then") == "thermostat").height > 0
    )
    assert pairs.filter(pl.col("first") != "thermostat", pl.col("then") != "thermostat").is_empty()


def test_a_table_is_shown_by_component_where_it_is_kept_so(demo_dir, capsys):
    orders, _ = shown(demo_dir, capsys, "reorder")
    wanted = orders["components"][0].split("; ")[0]
    of_it, _ = shown(demo_dir, capsys, "reorder", "--component", wanted.upper())
    assert 0 < of_it.height < orders.height
    assert all(wanted in names.split("; ") for names in of_it["components"])
    capsys.readouterr()
    assert main(["show", "meta", "--component", wanted, "--data", str(demo_dir)]) == 1
    assert "not kept by component" in capsys.readouterr().err
    assert main(["show", "fault", "--component", wanted[:-1], "--data", str(demo_dir)]) == 1
    assert wanted in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["export", "--to", "{file}/out"], "{file}/out"),
        (["history", "{car}", "--to", "{folder}/no/such.html"], "such.html"),
        (["quarantine", "--to", "{folder}/no/such.xlsx"], "such.xlsx"),
        (["quarantine", "--to", "{folder}/mend.txt"], "mend.txt"),
        (["load", "{file}", "--data", "{file}"], "{file}"),
    ],
)
def test_a_path_that_cannot_be_written_is_named(demo_dir, tmp_path, capsys, words, named):
    file = tmp_path / "here.txt"
    file.write_text("not a folder")
    with duckdb.connect(str(latest_path(demo_dir)), read_only=True) as connection:
        (car,) = connection.execute("select min(vehicle_id) from vehicle").fetchone()
    told = [word.format(file=file, folder=tmp_path, car=car) for word in words]
    if "--data" not in told:
        told += ["--data", str(demo_dir)]
    assert main(told) == 1
    said = capsys.readouterr().err
    assert named.format(file=file) in said
    assert "next:" in said
    assert "Traceback" not in said


@pytest.mark.parametrize("port", ["0", "99999999", "eight", "²"])
def test_a_port_that_is_none_is_wrong_usage(demo_dir, capsys, port):
    with pytest.raises(SystemExit) as stopped:
        main(["dashboard", "--port", port, "--data", str(demo_dir)])
    assert stopped.value.code == 2
    assert "no port" in capsys.readouterr().err


def test_what_to_type_next_names_the_folder_that_was_named(tmp_path, capsys):
    folder = tmp_path / "my shop"
    assert main(["analyse", "--data", str(folder)]) == 1
    assert f"--data '{folder}'" in capsys.readouterr().err


def test_rule_39_what_a_word_of_the_name_alone_withholds_is_said_with_the_word(twenty_dir, demo_dir, capsys):
    _, said = shown(twenty_dir, capsys, "life_model")
    assert "brake hose (“brake”)" in said
    assert "safety_critical = no" in said
    _, said = shown(demo_dir, capsys, "life_model")
    assert "by a word of the name" not in said
