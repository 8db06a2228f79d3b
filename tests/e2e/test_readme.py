"""Everything in the README and in the pages of `calib explain` that can be executed, is."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from calib.cli import COMMANDS, cli
from calib.cli.explain import page, topics
from tests.e2e.conftest import Ran
from tests.e2e.running import ENVIRONMENT
from tests.tools import REPOSITORY

README = (REPOSITORY / "README.md").read_text(encoding="utf-8")
PAGES = {"README": README} | {topic: page(topic) for topic in topics()}
KNOWN = {name for part in COMMANDS.values() for name in part}

RUN_BY_CI = ("python3 -m venv",)
"""Commands that install: .ci/run executes them as they stand, in fresh environments."""

VERDICTS = (0, 1)
"""A demo's bench may leave something unknown; wrong use and missing data may not be."""


def blocks(text: str) -> Iterator[list[str]]:
    """Indented blocks, line by line."""
    for block in re.findall(r"(?:^    .*\n?)+", text, re.MULTILINE):
        yield [line.removeprefix("    ").rstrip() for line in block.splitlines()]


def commands(text: str) -> list[str]:
    """Every line of an indented block that is a command, in order."""
    return [
        line
        for block in blocks(text)
        for line in block
        if re.match(r"(calib|python3|eval)\b", line)
    ]


@pytest.mark.parametrize("name", [name for name, text in PAGES.items() if commands(text)])
def test_every_command_line_is_executed_here_or_by_ci(
    name: str, tmp_path: Path, plain: Ran
) -> None:
    """In order, in one folder, each line as it stands, the bench running in the background."""
    shutil.copytree(plain.out, tmp_path / "calib-demo")
    program = tmp_path / "calib"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m calib "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    environment = ENVIRONMENT | {"PATH": f"{tmp_path}:{ENVIRONMENT['PATH']}"}
    running: list[subprocess.Popen[bytes]] = []
    try:
        for line in commands(PAGES[name]):
            if line.startswith(RUN_BY_CI):
                continue
            if line.startswith("calib simulate"):
                running.append(start(line, tmp_path, environment))
            else:
                run(line, tmp_path, environment)
    finally:
        for each in running:
            each.kill()
            each.communicate()


def run(line: str, folder: Path, environment: dict[str, str]) -> None:
    """Run one line in a shell; it must end with a verdict."""
    done = subprocess.run(
        ["bash", "-c", line],
        cwd=folder,
        env=environment,
        input="\n" * 40 if re.search("--verify|check", line) else "",
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode in VERDICTS, f"{line}: {done.returncode}\n{done.stdout}\n{done.stderr}"


def start(line: str, folder: Path, environment: dict[str, str]) -> subprocess.Popen[bytes]:
    """Start one line and wait for its first line of output."""
    started = subprocess.Popen(
        ["bash", "-c", f"exec {line}"],
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
    )
    assert started.stdout is not None
    assert started.stdout.readline()
    return started


@pytest.mark.parametrize("line", [line for line in commands(README) if line.startswith(RUN_BY_CI)])
def test_what_is_not_executed_here_is_executed_by_ci(line: str) -> None:
    """The two install commands: .ci/run takes them from the README itself."""
    ci = (REPOSITORY / ".ci" / "run").read_text(encoding="utf-8")
    assert "readme_command" in ci
    word = "pytest" if "pytest" in line else "calib demo"
    assert f"readme_command '{word}'" in ci


@pytest.mark.parametrize("name", PAGES)
def test_every_command_that_is_named_exists(name: str) -> None:
    """No sentence sends a person to a command that there is none of."""
    text = PAGES[name]
    named = set(re.findall(r"`calib ([a-z][a-z-]*)", text)) | {
        line.split()[1] for line in commands(text) if re.match(r"calib [a-z]", line)
    }
    assert named <= KNOWN


def test_every_command_is_told_of() -> None:
    """A command that the README does not name is found by nobody."""
    assert {name for name in KNOWN if f"calib {name}" not in README} == set()


def test_every_topic_that_is_named_has_its_page() -> None:
    """No sentence sends a person to a page that there is none of."""
    named = re.findall(r"calib explain ([a-z]+)", "".join(PAGES.values()))
    assert set(named) == set(topics())


@pytest.mark.parametrize("name", sorted(set(PAGES) - {"measured"}))
def test_every_option_that_is_named_exists(name: str) -> None:
    """Options of calib on a page are options of one of its commands."""
    context = click.Context(cli)
    known = {"--help", "--version"}
    for each in KNOWN:
        command = cli.get_command(context, each)
        assert command is not None
        for parameter in command.params:
            known.update(parameter.opts)
    ours = re.sub(r"`python -m tests\.bench[^`]*`", "", PAGES[name])  # benchmarks have their own
    assert set(re.findall(r"(?<![\w-])--[a-z][A-Za-z-]*[A-Za-z]", ours)) <= known


def test_the_front_page_is_short() -> None:
    """What does not fit in a quarter of an hour's reading is a page of `calib explain`."""
    assert len(README.split()) <= 2500


def test_every_picture_and_file_that_is_named_is_there() -> None:
    """Links of the README lead somewhere in the repository."""
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert "://" in target or (REPOSITORY / target).exists(), target


@pytest.mark.parametrize("name", PAGES)
def test_rig_file_snippets_are_toml(name: str) -> None:
    """What is shown of a rig file can be read."""
    for block in blocks(PAGES[name]):
        if block[0].startswith("["):
            assert tomllib.loads("\n".join(block))
