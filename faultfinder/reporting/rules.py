"""Rules as text for their authors: what is wrong, which there are, and what one says."""

from collections.abc import Mapping, Sequence
from itertools import groupby

from faultfinder.authoring.finding import Finding
from faultfinder.authoring.listing import Listed
from faultfinder.authoring.model_check import Record
from faultfinder.reporting.layout import WIDTH, Style, paragraph, plain
from faultfinder.source.problem import listed


def findings_text(
    findings: Sequence[Finding], rules: int, width: int = WIDTH, style: Style = plain
) -> str:
    """Return the findings as a table of file and line, rule, and problem."""
    if not findings:
        return style(f"{rules} rules, nothing wrong found.", "good")
    noun = "finding" if len(findings) == 1 else "findings"
    lines = [style(f"{rules} rules, {len(findings)} {noun}.", "bad")]
    for file, of_file in groupby(findings, key=lambda one: one.file):
        lines += ["", style(file, "heading")]
        for one in of_file:
            where = f"{one.line:>5}  " if one.line else " " * 7
            lines += paragraph(one.problem, width, where)
    return "\n".join(lines)


def signs_text(signs: Mapping[str, Record], width: int = WIDTH, style: Style = plain) -> str:
    """Return what the model says of each sign: how often it fired, how often it was right."""
    column = max((len(sign) for sign in signs), default=0)
    lines = [style(f"{'SIGN':<{column}}  FIRED  RIGHT  ALSO FIRES FOR", "heading")]
    for sign, record in signs.items():
        times = f"{sign:<{column}}  {record.fired[record.mode]:>5}  {record.right:>5}  "
        others = ", ".join(f"{mode} ({record.fired[mode]})" for mode in record.others) or "-"
        lines += paragraph(others, width, times)
    return "\n".join(lines)


def list_text(rules: Sequence[Listed], width: int = WIDTH, style: Style = plain) -> str:
    """Return the rules by kind, with where those come from that are not the program's own."""
    lines: list[str] = []
    for folder, of_kind in groupby(rules, key=lambda rule: rule.folder):
        lines += [*([""] if lines else []), style(folder.upper(), "heading")]
        several = list(of_kind)
        column = max(len(rule.id) for rule in several)
        for rule in several:
            plain_one = rule.is_shipped and not rule.off_by and not rule.signs_off
            said = rule.title if plain_one else f"{rule.title} [{_provenance(rule)}]"
            lines += paragraph(said, width, f"  {rule.id:<{column}}  ")
    return "\n".join(lines)


def rule_text(rule: Listed, text: str, width: int = WIDTH, style: Style = plain) -> str:
    """Return one rule: where it is from, what is said elsewhere of it, and its file as written."""
    head = [style(rule.name, "heading"), *paragraph(_provenance(rule), width, "  from      ")]
    if rule.signs:
        head += paragraph(listed(rule.signs, "and"), width, "  signs     ")
    return "\n".join([*head, "", text.rstrip("\n")])


def _provenance(rule: Listed) -> str:
    if rule.off_by:
        return f"switched off by {rule.off_by}"
    without = f", without {listed(rule.signs_off, 'and')}" if rule.signs_off else ""
    if rule.is_shipped:
        return f"{rule.path}, the program's own{without}"
    if rule.hides:
        return f"{rule.path}, instead of {listed(rule.hides, 'and')}{without}"
    return f"{rule.path}, your own{without}"
