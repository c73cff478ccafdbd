"""The command line as real processes, forked from one that has loaded it, which takes longest."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

from tests.cli.runner import ONE

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

PROGRAM = """
import json, os, signal, sys
from strapwright.cli.main import command, main

def run(folder, words, rename, said):
    replace = os.replace
    def counted(*given, **named):
        nonlocal rename
        rename -= 1
        if rename == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return replace(*given, **named)
    os.replace = counted
    os.dup2(os.open(said, os.O_WRONLY | os.O_CREAT), 2)
    os.chdir(folder)
    sys.argv[1:] = words
    main()

answers = os.dup(1)
os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
for words in (["draft", sys.argv[1]], ["card", sys.argv[1]]):
    command.main(words, standalone_mode=False)
sys.stdout.flush()
for line in sys.stdin:
    children = []
    for asked in json.loads(line):
        child = os.fork()
        if child == 0:
            run(*asked)
            os._exit(0)
        children.append(child)
    ends = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    os.write(answers, (json.dumps(ends) + chr(10)).encode())
"""
"""Loads the command line by two commands, then forks for each that it reads."""


@dataclass(frozen=True)
class Ended:
    """How a process ended: its exit status, less than 0 for a signal's number, and what it said on stderr."""

    status: int
    said: str


class Forks:
    """Runs commands, each in a process of its own.

    Args:
        folder: for what the processes say.
    """

    def __init__(self, folder: Path) -> None:
        self._said = (folder / str(number) for number in count())
        self._parent = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, ONE], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def run(self, folder: Path, *words: str, killed_at: int = 0) -> Ended:
        """Run one command in a folder, killed by a signal it cannot catch before its n-th rename if not 0."""
        return self.run_at_once([(folder, words, killed_at)])[0]

    def run_at_once(self, asked: Sequence[tuple[Path, Sequence[str], int]]) -> list[Ended]:
        """Run several commands side by side."""
        said = [next(self._said) for _ in asked]
        runs = [
            (str(folder), list(words), killed_at, str(path))
            for (folder, words, killed_at), path in zip(asked, said, strict=True)
        ]
        assert self._parent.stdin is not None
        assert self._parent.stdout is not None
        print(json.dumps(runs), file=self._parent.stdin, flush=True)
        statuses = json.loads(self._parent.stdout.readline())
        return [Ended(status, path.read_text("utf-8")) for status, path in zip(statuses, said, strict=True)]

    def close(self) -> None:
        """End the process that all were forked from."""
        self._parent.communicate()
        assert self._parent.returncode == 0
