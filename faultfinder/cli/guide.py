"""``faultfinder guide``: led from a failed reading to a proved repair, a question at a time."""

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from faultfinder.cli.exits import ExitCode, RefusedError, UnavailableError
from faultfinder.cli.own_rules import rulebook_for, rules_option
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput, Position, Problem

if TYPE_CHECKING:
    from faultfinder.guiding.session import Session
    from faultfinder.readings.reading import Reading
    from faultfinder.wiring.fault import Fault

_MARK = "# Written by faultfinder guide; run it on this file to go on."


@click.command()
@click.argument("case", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "--save",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Where answers are kept.  [default: CASE-guided.yaml, or CASE if guide wrote it]",
)
@rules_option
@click.option("--plan", is_flag=True, help="Print the whole decision tree instead, to take along.")
@click.option(
    "--svg",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw the decision tree into FILE as well, with --plan.",
)
@click.pass_context
def guide(
    context: click.Context,
    case: Path,
    save: Path | None,
    own: tuple[Path, ...],
    svg: Path | None,
    *,
    plan: bool,
) -> None:
    """Ask for one check after another until one place is left to repair.

    Each question says what to do and where, why, and what each outcome would mean. Answers are
    values as the instrument shows them (0.4, open, >200M), or words: help lists them. All answers
    are kept in a case file after each; guide on that file goes on. Your own file is not touched.

    \b
    Example:  faultfinder guide my-case.yaml
              faultfinder guide my-case.yaml --save done.yaml
              faultfinder guide my-case.yaml --plan --svg plan.svg
    """  # noqa: D301 - click wants the character itself
    # Late, so that --help and a usage error need not wait for them.
    from faultfinder.engine import BadSigns, EngineUnavailable
    from faultfinder.guiding.session import Session
    from faultfinder.readings.file import load_case

    if svg is not None and not plan:
        raise click.UsageError("--svg draws the decision tree: give --plan as well")
    rulebook = rulebook_for(own)
    known = rulebook.procedures, rulebook.modes, rulebook.set_ups
    try:
        first = load_case(case, *known, may_be_unread=True, shelf=rulebook.shelf)
        if not _is_own(case):  # what a person noted as found is the end, and not where to begin
            first = replace(first, found=None)
        session = Session(first, rulebook)
        path = None if plan else _kept_in(case, save)
        code = _print_plan(session, svg) if path is None else _Dialogue(session, path).run()
    except EngineUnavailable as error:
        raise UnavailableError(error) from error
    except (BadInput, BadSigns) as error:
        raise RefusedError(error) from error
    context.exit(code)


def _kept_in(case: Path, save: Path | None) -> Path:
    """Return where answers are kept: never over what a person wrote, nor over another session.

    Raises `BadInput` where that would be. Over another session only if that file is named.
    """
    path = save or (case if _is_own(case) else case.with_name(f"{case.stem}-guided.yaml"))
    if not path.exists():
        return path
    if not _is_own(path):
        found, expected = "not written by guide, and kept as it is", "another file for --save"
    elif save is None and path != case:
        found = "the answers of a session begun before are kept here"
        expected = f"faultfinder guide {path} to go on, or --save and a file to begin anew"
    else:
        return path
    raise BadInput([Problem(Position(str(path), 0, 0), "file-exists", found, expected)])


def _is_own(case: Path) -> bool:
    from faultfinder.source.text import read_text

    return read_text(case).startswith(_MARK)


def _print_plan(session: "Session", svg: Path | None) -> ExitCode:
    from faultfinder.guiding.tree import decision_tree
    from faultfinder.reporting.plan import plan_svg, plan_text
    from faultfinder.source.atomic import write_text

    tree = decision_tree(session.diagnosis)
    title = session.case.title or Path(session.case.name).name
    click.echo(plan_text(tree, title, columns(), coloured))
    if svg is not None:
        with _writing(svg):
            write_text(svg, plan_svg(tree, title))
    return ExitCode.FOUND if session.diagnosis.anything_wrong else ExitCode.FINE


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    """Turn what keeps a file from being written into bad input."""
    try:
        yield
    except OSError as error:
        found = f"cannot be written: {error.strerror}"
        problem = Problem(Position(str(path), 0, 0), "not-writable", found, "another file")
        raise BadInput([problem]) from error


class _Dialogue:
    """Asks on the terminal, and keeps what it is told."""

    def __init__(self, session: "Session", save: Path) -> None:
        self.session, self.path = session, save
        self.told: set[str] = set()

    def run(self) -> ExitCode:
        """Ask until something is found, nothing is left to ask, or the user stops."""
        from faultfinder.reporting import dialogue

        self._say(dialogue.opening(self.session, columns()))
        try:
            while (check := self.session.asked) is not None:
                self._say(dialogue.question(self.session, check, self.told, columns(), coloured))
                if not self._answered():
                    self._stopped()
                    break
            else:
                self._end()
        except (KeyboardInterrupt, click.Abort):
            self._stopped()
        wrong = self.session.case.found is not None or self.session.diagnosis.anything_wrong
        return ExitCode.FOUND if wrong else ExitCode.FINE

    def _say(self, lines: Sequence[str]) -> None:
        click.echo("\n".join(lines))

    def _line(self) -> str | None:
        """Return what is typed next; None at the end of the input."""
        click.echo("> ", nl=False)
        line = sys.stdin.readline()
        if not sys.stdin.isatty():
            click.echo(line.rstrip("\n"))
        return line.strip() if line else None

    def _answered(self) -> bool:
        """Take answers until one moves the session on; False where the user stops."""
        from faultfinder.guiding.answers import NotUnderstood
        from faultfinder.reporting import dialogue
        from faultfinder.wiring.fault import FaultSyntaxError

        while True:
            typed = self._line()
            if typed is None:
                return False
            match typed.lower().replace("’", "'"):
                case "":
                    continue
                case "quit" | "q" | "exit":
                    return False
                case "help" | "?" | "h":
                    self._say(dialogue.helped(columns()))
                    continue
                case "why":
                    self._say(dialogue.reasons(self.session, columns()))
                    continue
                case "undo":
                    if self.session.before is None:
                        self._say(["   Nothing to take back."])
                        continue
                    self._go(self.session.undo())
                    return True
                case "skip" | "s":
                    self._go(self.session.skip())
                    return True
                case "can't" | "cant" | "cannot":
                    self._go(self.session.cannot())
                    return True
            try:
                after, readings = self._understood(typed)
            except (NotUnderstood, FaultSyntaxError) as error:
                self._say(dialogue.not_understood(error.found, error.expected, columns()))
                continue
            if after is None:
                return False
            before = self.session
            self._go(after)
            if after.case.found is None:
                self._say(dialogue.changed(before, after, readings, columns(), coloured))
            return True

    def _understood(self, typed: str) -> "tuple[Session | None, tuple[Reading, ...]]":
        """Return the session after an answer, and the readings in it; no session to stop."""
        from faultfinder.guiding.answers import NotUnderstood, readings_typed
        from faultfinder.guiding.words import GONE, NOT_GONE, said_fault
        from faultfinder.readings.doing import EXCHANGE, LOOK

        check, session = self.session.asked, self.session
        assert check is not None  # noqa: S101 - answers are taken to a question only
        fault = said_fault(typed, session)
        if fault is not None:
            return session.found([fault]), ()
        word = typed.lower()
        at = check.spot.at
        if check.test in GONE:
            if word in GONE[check.test]:
                return self._which(), ()
            if word not in NOT_GONE[check.test]:
                one, other = NOT_GONE[check.test][0], GONE[check.test][0]
                raise NotUnderstood(f'"{typed}"', f"{one} or {other}; help lists the words")
            if check.test == LOOK:
                return session.saw_nothing(at), ()
            if check.test == EXCHANGE:
                return session.did_not_help(at), ()
            return self._in_order(at), ()
        tests = session.rulebook.procedures
        readings = readings_typed(typed, check, session.case.circuit, tests)
        return session.read(readings), readings

    def _in_order(self, at: str) -> "Session":
        """Return the session after the set-up was found in order."""
        session = self.session
        for suspect in session.to_be_seen():
            for fault in suspect.faults:
                if (
                    fault.set_up
                    and fault.at == at
                    and (fault.set_up, at) not in session.case.in_order
                ):
                    session = session.is_in_order(fault)
        return session

    def _which(self) -> "Session | None":
        """Return the session with what was seen; asks which, where it may be one of several."""
        from faultfinder.guiding.words import said_fault
        from faultfinder.reporting import dialogue
        from faultfinder.wiring.fault import FaultSyntaxError

        suspects = self.session.to_be_seen()
        if len(suspects) == 1:
            return self.session.confirmed_as(suspects[0])
        self._say(dialogue.choices(suspects, columns()))
        while True:
            typed = self._line()
            if typed is None or typed.lower() in {"quit", "q"}:
                return None
            if typed.isdigit() and 1 <= int(typed) <= len(suspects):
                return self.session.confirmed_as(suspects[int(typed) - 1])
            try:
                fault: Fault | None = said_fault(typed, self.session)
            except FaultSyntaxError as error:
                self._say(dialogue.not_understood(error.found, error.expected, columns()))
                continue
            if fault is not None:
                return self.session.found([fault])
            self._say([f"   a number from 1 to {len(suspects)}, or the fault as said"])

    def _go(self, session: "Session") -> None:
        """Take a session for the present one, and keep it on disk."""
        from faultfinder.readings.writing import dump
        from faultfinder.source.atomic import write_text

        self.session = session
        text = dump(session.case, session.rulebook.procedures, self.path.resolve().parent)
        with _writing(self.path):
            write_text(self.path, f"{_MARK}\n{text}")

    def _stopped(self) -> None:
        said = f"Stopped. To go on: faultfinder guide {self.path}"
        self._say([said if self.path.exists() else "Stopped; nothing was answered yet."])

    def _end(self) -> None:
        from faultfinder.guiding.ending import mending
        from faultfinder.reporting import dialogue

        session = self.session
        found = session.case.found
        if found is not None and found.faults:
            said = mending(session.case, session.rulebook, found.faults)
            lines = dialogue.repair(said, columns(), coloured)
            if why := session.why_not():
                lines += dialogue.not_explained(why, columns(), coloured)
            self._say(lines)
        else:
            self._say(dialogue.at_an_end(session, columns(), coloured))
        if self.path.exists():
            self._say(["", f"Kept in {self.path}"])
