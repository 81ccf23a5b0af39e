"""The README tells what the code does: its tables of columns and commands are held against the declarations."""

import argparse
import re
from dataclasses import fields
from pathlib import Path

from analytics.command_line import build_parser
from analytics.records.feed import ACTIONS, FEED, REASONS
from analytics.records.mapping import Settings
from analytics.records.mapping_file import BLOCK_KEYS, TEXT_KEYS

README = Path(__file__).resolve().parents[2] / "README.md"
BEGIN = "<!-- feed tables: written by tests/architecture/test_readme.py -->"
END = "<!-- end of feed tables -->"


def feed_rows():
    yield "| table | columns |"
    yield "|---|---|"
    for table in FEED.values():
        names = ", ".join(f"`{c.name}`{'' if c.nullable else '*'}" for c in table.columns)
        yield f"| `{table.name}`, {table.meaning} | {names} |"


def test_the_feed_tables_in_the_readme_are_those_of_the_code():
    text = README.read_text(encoding="utf-8")
    written = text[text.index(BEGIN) + len(BEGIN) : text.index(END)].strip()
    assert written == "\n".join(feed_rows()), "paste the output of: python -m tests.architecture.test_readme"


def test_the_mapping_keys_in_the_readme_are_those_of_the_code():
    text = README.read_text(encoding="utf-8")
    told = text.split("<!-- mapping keys -->")[1].split("<!-- end of mapping keys -->")[0]
    first = [line.split("|")[1] for line in told.splitlines() if line.startswith("| `")]
    assert sorted(re.findall("`([a-z_]+)`", " ".join(first))) == sorted(BLOCK_KEYS)
    assert all(f"`{key}`" in told for key in TEXT_KEYS)
    said = text.split("Under `[settings]` may stand")[1].split("\n\n")[0]
    assert all(f"`{each.name}`" in said for each in fields(Settings))


def test_every_action_and_reason_is_named():
    text = " ".join(README.read_text(encoding="utf-8").split())
    assert f"`action` is one of {', '.join(ACTIONS)}" in text
    assert f"`reason` one of {', '.join(REASONS)}" in text


def test_every_command_is_documented_and_nothing_else():
    parser = build_parser()
    (commands,) = [a for a in parser._actions if isinstance(a, argparse._SubParsersAction)]
    table = README.read_text(encoding="utf-8").split("| command | does |")[1].split("\n\n")[0]
    documented = re.findall(r"^\| `([a-z]+)[ `]", table, flags=re.M)
    assert sorted(documented) == sorted(commands.choices)


def test_every_option_is_documented():
    parser = build_parser()
    (commands,) = [a for a in parser._actions if isinstance(a, argparse._SubParsersAction)]
    text = README.read_text(encoding="utf-8")
    for name, command in commands.choices.items():
        row = next(line for line in text.splitlines() if re.match(rf"\| `{name}[ `]", line))
        for action in command._actions:
            for option in action.option_strings:
                if option.startswith("--") and option not in {"--help", "--data"}:
                    assert option in row, f"{name} {option}"


def test_the_readme_has_exactly_two_set_up_commands():
    section = README.read_text(encoding="utf-8").split("## Two commands")[1].split("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", section, flags=re.S)
    assert [block.strip() for block in blocks] == ["sh .ci/demo", "sh .ci/test"]


if __name__ == "__main__":
    print("\n".join(feed_rows()))  # noqa: T201 - to be pasted into the README
