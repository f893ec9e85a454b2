"""Diagnoses asked for and marked: is the truth in the leading group, and how large is it?"""

import contextlib
import io
import json
import runpy
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

from drawing import Fault, label

Diagnosis = dict[str, Any]
ANSWERED = (0, 1, 2)  # exit codes with which every case has a line: nothing found, found, bad input


class NoAnswerError(Exception):
    """The command did not answer every case; carries what it said."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How one diagnosis did; ``leader`` is what it put first, in one line."""

    hit: bool
    group_size: int
    verdict: str
    leader: str


Label = tuple[str, tuple[str, ...], str]


@dataclass(frozen=True, slots=True)
class Ranked:
    """A suspect as a study sees it: what it names, how probable, whether it leads, of what kind."""

    labels: frozenset[Label]
    probability: float
    leads: bool
    is_set_up: bool


def in_subprocess(arguments: Sequence[str]) -> tuple[int, str, str]:
    """Run ``faultfinder`` with arguments; return exit code, output, errors."""
    command = [sys.executable, "-m", "faultfinder", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 (our own command and files)
    return done.returncode, done.stdout, done.stderr


def in_process(arguments: Sequence[str]) -> tuple[int, str, str]:
    """Do the same without a new interpreter."""
    out, code = io.StringIO(), 0
    argv = mock.patch.object(sys, "argv", ["faultfinder", *arguments])
    here_first = mock.patch.object(sys, "path", ["", *sys.path])  # as `python -m` has it
    with argv, here_first, contextlib.redirect_stdout(out):
        try:
            runpy.run_module("faultfinder", run_name="__main__")
        except SystemExit as leaving:
            code = leaving.code if isinstance(leaving.code, int) else int(bool(leaving.code))
    return code, out.getvalue(), ""


def diagnose(
    paths: Sequence[Path],
    run: Callable[[Sequence[str]], tuple[int, str, str]] = in_subprocess,
    at_once: int = 50,
) -> list[Diagnosis]:
    """Return one diagnosis a case file, in the order given.

    Raises
    ------
    NoAnswerError
        If the tool failed or left a case out.
    """
    found: list[Diagnosis] = []
    for start in range(0, len(paths), at_once):
        batch = [str(path) for path in paths[start : start + at_once]]
        code, out, errors = run(["diagnose", *batch, "--format", "json"])
        if code not in ANSWERED:
            raise NoAnswerError(f"exit code {code}\n{errors}{out}")
        found += parse(out, len(batch), errors)
    return found


def parse(out: str, number: int, errors: str = "") -> list[Diagnosis]:
    """Return the diagnoses of a command's output, one a line.

    Raises
    ------
    NoAnswerError
        If there are not as many as cases, or a line is no JSON object.
    """
    lines = [line for line in out.splitlines() if line.strip()]
    if len(lines) != number:
        raise NoAnswerError(f"{len(lines)} lines for {number} cases\n{errors}{out[:2000]}")
    try:
        return [json.loads(line) for line in lines]
    except json.JSONDecodeError as wrong:
        raise NoAnswerError(f"not JSON: {wrong}\n{out[:2000]}") from wrong


def ranked(diagnosis: Diagnosis) -> list[Ranked]:
    """Return the suspects of a diagnosis, the first one first; none if it has an error."""
    suspects = sorted(diagnosis.get("suspects", ()), key=lambda suspect: suspect["rank"])
    return [
        Ranked(
            frozenset(map(_label, suspect["faults"])),
            suspect["probability"],
            suspect["group"] == suspects[0]["group"],
            any(fault.get("set_up") for fault in suspect["faults"]),
        )
        for suspect in suspects
    ]


def mark(diagnosis: Diagnosis, truth: Fault | None) -> Mark:
    """Mark a diagnosis; one with an error, or with no suspects, is a miss with an empty group."""
    if "error" in diagnosis:
        return Mark(hit=False, group_size=0, verdict="error", leader=f"error: {diagnosis['error']}")
    suspects = sorted(diagnosis["suspects"], key=lambda suspect: suspect["rank"])
    if not suspects:
        return Mark(hit=False, group_size=0, verdict=diagnosis["verdict"], leader="no suspects")
    group = [s["faults"] for s in suspects if s["group"] == suspects[0]["group"]]
    wanted = [] if truth is None else [truth.label]
    hit = wanted in [[_label(fault) for fault in faults] for faults in group]
    leader = f"{_say(group[0])} (p {suspects[0]['probability']:.2f})"
    return Mark(hit, len(group), diagnosis["verdict"], leader)


def _label(fault: dict[str, Any]) -> tuple[str, tuple[str, ...], str]:
    named = fault.get("set_up") or fault["mode"]
    return label(named, tuple(fault.get("conductors") or ()), fault["at"])


def _say(faults: Iterable[dict[str, Any]]) -> str:
    def say(fault: dict[str, Any]) -> str:
        ohms = fault.get("ohms")
        r_ohm = float(ohms) if isinstance(ohms, int | float) else None
        return str(Fault(fault["mode"], tuple(fault.get("conductors") or ()), fault["at"], r_ohm))

    return " and ".join(map(say, faults)) or "sound"
