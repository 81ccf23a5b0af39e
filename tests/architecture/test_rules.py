"""Every rule of record that is said to be tested has a test that bears its name."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROW = re.compile(r"^\| (\d+) \| .+ \| (yes|later) \|$", re.M)


def named_tests():
    pattern = re.compile(r"^def test_rule_(\d\d)_\w+", re.M)
    return {int(n) for path in (ROOT / "tests").rglob("test_*.py") for n in pattern.findall(path.read_text("utf-8"))}


def test_every_rule_said_to_be_tested_has_a_test_of_its_name():
    rules = {int(n): state for n, state in ROW.findall((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))}
    assert sorted(rules) == list(range(1, 41))
    stated = {n for n, state in rules.items() if state == "yes"}
    assert stated - named_tests() == set(), "rules without a test of their name"
    assert named_tests() - stated == set(), "tested rules that DEVELOPERS.md calls later"
