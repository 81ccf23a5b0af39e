"""A word that no command understands is answered with the one that was probably meant."""

import pytest

from analytics.cli import main


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["lod", "x"], "did you mean load?"),
        (["analyze"], "did you mean analyse?"),
        (["load", "--maping", "m.toml", "x"], "did you mean --mapping?"),
        (["analyse", "--asof", "2020-01-01"], "did you mean --as-of?"),
        (["show", "vehicle", "--format", "jsn"], "did you mean json?"),
        (["undo", "last"], "is no number of a load"),
        (["backtest", "--origins", "0"], "write one from 1 to 100"),
        ([], "wearledger --help"),
        (["template"], "wearledger template --help"),
    ],
)
def test_what_was_meant_and_where_to_look_is_said(words, says, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2
    assert says in capsys.readouterr().err


def test_what_is_near_to_nothing_proposes_nothing(capsys):
    with pytest.raises(SystemExit):
        main(["qqqq"])
    assert "did you mean" not in capsys.readouterr().err


def test_a_table_is_proposed_for_a_slip_of_its_name(twenty_dir, capsys):
    assert main(["show", "vehicles", "--data", str(twenty_dir)]) == 1
    assert "did you mean vehicle? choose one of: " in capsys.readouterr().err


def test_where_nothing_waits_no_workbook_is_written(twenty_dir, tmp_path, capsys):
    assert main(["quarantine", "--to", str(tmp_path / "mend.xlsx"), "--data", str(twenty_dir)]) == 0
    told = capsys.readouterr().out
    assert "nothing is waiting in quarantine" in told
    assert "mend.xlsx was not written" in told
    assert "next:" not in told
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["load", "history", "forget", "undo", "withdraw", "restore", "show", "export"])
def test_every_word_and_option_of_a_command_is_explained(command, capsys):
    with pytest.raises(SystemExit):
        main([command, "--help"])
    lines = capsys.readouterr().out.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(("positional", "options")))
    for line, after in zip(lines[start:], [*lines[start + 1 :], ""], strict=True):
        if line.startswith("  ") and not line.startswith("      "):
            assert "  " in line.strip() or after.startswith("      "), line
