"""A file or folder that cannot be used is named, with what is wrong and what to do; an empty name is none."""

import errno

import pytest

from analytics.cli import main
from analytics.paths import not_usable, reason, writing


def refusal(capsys, *words):
    capsys.readouterr()
    assert main(list(words)) == 1
    told = capsys.readouterr().err
    assert "Errno" not in told
    assert "next:" in told
    return told


@pytest.mark.parametrize("words", [["show", "vehicle", "--data", ""], ["load", " "], ["export", "--to", ""]])
def test_an_empty_path_never_means_the_working_folder(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2
    assert "names no file or folder" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_data_folder_that_cannot_be_made_is_named(tmp_path, capsys):
    jobs = tmp_path / "vehicles.csv"
    jobs.write_text("vehicle_id,series\na,S1\n")
    for data, why in (("/proc/zz", "the folder /proc takes nothing new"), (str(jobs / "x"), "is a file, not a folder")):
        for words in (["load", str(jobs)], ["demo", "--no-dashboard"]):
            told = refusal(capsys, *words, "--data", data)
            assert f"the data folder {data} cannot be used" in told
            assert why in told
            assert "name a folder" in told


def test_what_a_command_should_write_is_named_with_what_is_wrong(demo_dir, tmp_path, capsys):
    a_file = tmp_path / "a_file"
    a_file.write_text("")
    cases = (
        (["export", "--to", str(a_file)], "it is a file", "name a folder"),
        (["export", "--to", str(a_file / "sub")], f"{a_file} is a file, not a folder", "name a folder"),
        (["export", "--to", "/proc/x"], "the folder /proc takes nothing new", "name a folder"),
        (["template", "--to", str(tmp_path / "no" / "x.xlsx")], f"the folder {tmp_path / 'no'} is not", "name a file"),
        (["quarantine", "--to", str(tmp_path / "no" / "x.xlsx")], f"the folder {tmp_path / 'no'} is", "name a file"),
        (["backup", "--to", str(tmp_path / "no" / "b.zip")], f"the folder {tmp_path / 'no'} is not", "name a file"),
        (["history", "car-001", "--to", str(tmp_path)], "it is a folder", "name a file"),
    )
    for words, why, step in cases:
        told = refusal(capsys, *words, "--data", str(demo_dir))
        assert f"{words[-1]} cannot be written: {why}" in told
        assert step in told


def test_a_backup_that_is_not_there_is_named(tmp_path, capsys):
    gone = str(tmp_path / "gone.zip")
    assert f"{gone} cannot be used: it is not there" in refusal(
        capsys, "restore", gone, "--data", str(tmp_path / "new")
    )


def test_rights_and_a_full_disk_are_told_in_words(tmp_path):
    path = tmp_path / "x"
    assert "this user may not" in reason(path, PermissionError(errno.EACCES, "Permission denied"))
    with pytest.raises(Exception, match="the disk is full"), writing(path, "export --to"):
        raise OSError(errno.ENOSPC, "No space left on device")
    full = not_usable(OSError(errno.ENOSPC, "No space left on device", str(tmp_path / "feeds")), tmp_path)
    assert "the disk is full" in full.what
    assert "make room" in full.next_step
