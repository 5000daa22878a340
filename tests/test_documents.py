"""The guides name paths, commands and pictures that are there."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

ROOT = Path(__file__).resolve().parent.parent
GUIDES = ["README.md", "DEVELOPERS.md"]
HANDLED_BEFORE_DJANGO = {"test"}


@pytest.mark.parametrize("guide", GUIDES)
def test_every_path_in_a_guide_is_there(guide):
    text = (ROOT / guide).read_text(encoding="utf-8")
    named = re.findall(r"`((?:builds|valvetrain|tests|static|fixtures|templates|\.ci)/[\w./-]*)`", text)
    named += re.findall(r"\]\(([\w./-]+)\)", text)
    assert named
    assert [path for path in named if not (ROOT / path).exists()] == []


@pytest.mark.parametrize("guide", GUIDES)
def test_every_command_in_a_guide_is_there(guide):
    text = (ROOT / guide).read_text(encoding="utf-8")
    named = set(re.findall(r"manage\.py (\w+)", text))
    assert named
    assert named - set(get_commands()) - HANDLED_BEFORE_DJANGO == set()


def test_every_module_that_a_guide_runs_is_there():
    for guide in GUIDES:
        for module in re.findall(r"python -m ([\w.]+)", (ROOT / guide).read_text(encoding="utf-8")):
            assert (ROOT / (module.replace(".", "/") + ".py")).exists(), module


def test_the_readme_opens_with_the_job():
    first = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n")[1]
    assert "rocker arms" in first
    assert "half lift" in first
