"""The only module that knows durable-rules: rule sets registered once, facts run through them.

How it is used, and why (durable_rules 2.0.28, measured and read in its source):

- One host for the process, since hosts are never freed; one state a run, deleted after it. A
  lock keeps runs apart. The host's two timer threads are not started: they would take actions
  away from the run that is waiting for them, and never end.
- A rule with an absent pattern fires before the fact that forbids it arrives, and what the
  library later takes back is not all (577 of 10,000 generated sets of facts came out wrong). So
  every rule waits for the fact `go`, told last: all matches are made then, against all facts.
- The fact `begin` comes first and always fires. The library frees memory that only a fired
  action initialises, so a state on which nothing fired must not be deleted.
- Facts are asserted, never posted: an event is consumed by the first rule that takes it.
- Actions only append to a list. The library swallows what they raise; it is raised here.
"""

import shlex
import sys
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from faultfinder.engine.fault import EngineFault, EngineUnavailable

Message = Mapping[str, int | str]
Match = tuple[str, tuple[int, ...]]
"""The rule's name and the ids of the facts that it bound, in the order asked for."""
Found = Callable[[Match], None]

# With the pip of the interpreter that lacks it: another would build it for another one.
REMEDY = (
    "CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject "
    f"{shlex.quote(sys.executable)} -m pip install "
    "--force-reinstall --no-cache-dir --no-binary durable-rules durable-rules==2.0.28"
)
# One state at a time and always the same name: were one ever left over, the next run would
# stumble over its `begin` and say so, instead of seeing old facts in silence.
STATE = "run"
BEGIN: Message = {"id": "begin", "sid": STATE, "step": 0}
GO: Message = {"id": "go", "sid": STATE, "step": 1}

_lock = threading.Lock()
_hosts: list[Any] = []
_registered: dict[str, "RuleSet"] = {}


class RuleSet:
    """Rules that the library holds under one name; made by `rule_set` only."""

    def __init__(
        self,
        name: str,
        rules: Mapping[str, Sequence[Mapping[str, object]]],
        bound: Mapping[str, Sequence[str]],
    ) -> None:
        self._name = name
        self._host = _host()
        self._found: Found | None = None
        self._steps: list[str] = []
        self._raised: list[BaseException] = []
        definition: dict[str, object] = {"begin": self._step_rule("begin", BEGIN)}
        for rule, patterns in rules.items():
            everything = [{"go": {"step": GO["step"]}}, *patterns]
            definition[rule] = {"all": everything, "run": self._match(rule, tuple(bound[rule]))}
        # Actions run in the order of their rules, so this one shows that all others have run.
        definition["end"] = self._step_rule("end", GO)
        self._host.set_rulesets({name: definition})

    def run(self, messages: Iterable[Message], found: Found) -> None:
        """Tell `found` every match of every rule in these facts.

        `messages` need a unique `id`, the text of a whole number.
        Raises `EngineFault` if the library or `found` raised anything, or did not finish.
        """
        with _lock:
            self._found, self._steps, self._raised = found, [], []
            try:
                try:
                    kept = self._tell(messages)
                finally:
                    self._found = None
                    self._host.delete_state(self._name, STATE)
            except Exception as error:
                reason = getattr(error, "message", error)
                raise EngineFault(f"the rule engine failed: {reason}") from error
            for raised in self._raised:
                if not isinstance(raised, Exception):
                    raise raised  # such as the user's interrupt
                raise EngineFault(f"a rule's action failed: {raised!r}") from raised
            if kept:
                raise EngineFault(f"the rule engine kept an exception: {kept}")
            if self._steps != ["begin", "end"]:
                raise EngineFault("the rule engine stopped before every rule was tried")

    def _tell(self, messages: Iterable[Message]) -> object:
        """Assert the facts between `begin` and `go`; return the exception the state holds."""
        unwanted = _library().MessageNotHandledException
        self._host.assert_fact(self._name, dict(BEGIN))
        for message in messages:
            try:
                self._host.assert_fact(self._name, {**message, "sid": STATE})
            except unwanted:
                continue  # no rule has a use for this fact, and nothing is wrong
        self._host.assert_fact(self._name, dict(GO))
        return self._host.get_state(self._name, STATE).get("exception")

    # The library takes an action of one argument for a plain one; one of two, default or not,
    # for one that will call back. So what an action knows is closed over, never a default.

    def _step_rule(self, step: str, fact: Message) -> dict[str, object]:
        def note(_: Any) -> None:
            self._steps.append(step)

        return {"all": [{"fact": {"step": fact["step"]}}], "run": note}

    def _match(self, rule: str, aliases: tuple[str, ...]) -> Callable[[Any], None]:
        def tell(context: Any) -> None:
            try:
                if self._found is not None:
                    self._found((rule, tuple(int(getattr(context, a).id) for a in aliases)))
            except BaseException as error:  # the library would swallow it
                self._raised.append(error)

        return tell


def rule_set(
    name: str,
    rules: Mapping[str, Sequence[Mapping[str, object]]],
    bound: Mapping[str, Sequence[str]],
) -> RuleSet:
    """Return the rule set of this name, registered the first time it is asked for.

    `rules` holds patterns in the library's form, `bound` the aliases whose facts are told.
    The name must change with the rules: the library cannot replace a rule set.
    Raises `EngineUnavailable` without the library, `EngineFault` if it refuses the rules.
    """
    with _lock:
        if name not in _registered:
            try:
                _registered[name] = RuleSet(name, rules, bound)
            except EngineFault:
                raise
            except Exception as error:
                raise EngineFault(f"the rule engine refused its rules: {error}") from error
        return _registered[name]


def _host() -> Any:
    if not _hosts:
        # A host without its timers, see above.
        _hosts.append(type("Host", (_library().Host,), {"_run": lambda _: None})())
    return _hosts[0]


def _library() -> Any:
    try:
        from durable import engine
    except ImportError as error:
        raise EngineUnavailable(
            f"durable-rules 2.0.28 cannot be loaded ({error}). On Python 3.13 and later it must "
            f"be built with one name replaced: {REMEDY}"
        ) from error
    return engine
