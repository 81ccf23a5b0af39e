"""A result names the program that computed it."""

import shutil

from analytics import program


def version_of(package, monkeypatch):
    monkeypatch.setattr(program, "PACKAGE", package)
    program.program_version.cache_clear()
    try:
        return program.program_version()
    finally:
        program.program_version.cache_clear()


def test_changed_code_is_another_program_and_moved_code_the_same(tmp_path, monkeypatch):
    there, elsewhere = program.PACKAGE, tmp_path / "analytics"
    shutil.copytree(there, elsewhere, ignore=shutil.ignore_patterns("__pycache__"))
    assert version_of(elsewhere, monkeypatch) == version_of(there, monkeypatch)
    (elsewhere / "README").write_text("no code")
    assert version_of(elsewhere, monkeypatch) == version_of(there, monkeypatch)
    with (elsewhere / "scales.py").open("a") as file:
        file.write("\n")
    assert version_of(elsewhere, monkeypatch) != version_of(there, monkeypatch)
