"""The rules as data, and choosing among them by name."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import msgspec

from dripfield.bed.sieves import Gradation
from dripfield.core.errors import InputError, input_error

Status = Literal["confirmed", "secondary", "memory"]
About = Literal["layout", "bed", "zones", "preparation"]


class Rule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One published rule; ``rules.toml`` says what each field holds."""

    id: str
    set: str
    jurisdiction: str
    scope: str
    title: str
    citation: str
    read: str
    status: Status
    text: str
    about: About
    check: str
    of: str = ""
    wanted: bool = True
    parameters: dict[str, float] = {}
    gradation: Gradation | None = None


GONE_SETS = {
    "texas": "it is now 'texas-222': chapter 222 is for permitted systems, not for homes",
    "arkansas": "take it out: the paragraph is a purpose clause and limits nothing",
    "washington": "take it out: the paragraph is for those who register tubing, not for a layout",
}
GONE_RULES = {
    "texas-grade": "it is now 'texas-222-grade'",
    "texas-line-centres": "it is now 'texas-222-line-centres'",
    "texas-emitters": "it is now 'texas-222-emitters'",
    "texas-depth": "it is now 'texas-222-depth'",
    "arkansas-cover": GONE_SETS["arkansas"],
    "washington-emitter-rate": GONE_SETS["washington"],
}


@cache
def rule_book() -> tuple[Rule, ...]:
    """Every built-in rule, set by set."""
    text = (files("dripfield.rules.model") / "rules.toml").read_text(encoding="utf-8")
    return tuple(
        msgspec.convert({**_of_set(one), **rule}, Rule)
        for one in tomllib.loads(text)["set"]
        for rule in one["rule"]
    )


def _of_set(one: dict[str, Any]) -> dict[str, Any]:
    """What every rule of a set holds, where it does not say otherwise."""
    common = {key: value for key, value in one.items() if key not in ("name", "rule")}
    return {"set": one["name"], **common}


def rule_sets() -> tuple[str, ...]:
    """Names of the sets in the book."""
    return tuple(dict.fromkeys(rule.set for rule in rule_book()))


def chosen_rules(names: Sequence[str], off: Collection[str] = ()) -> tuple[Rule, ...]:
    """The rules of the named sets, less those switched off.

    Parameters
    ----------
    names : sequence of str
        Names of rule sets ("alabama"), as in ``[rules] check``.
    off : collection of str
        Ids of single rules, as in ``[rules] off``.

    Returns
    -------
    tuple of Rule
        In the book's order, each once.

    Raises
    ------
    InputError
        A name that is not known, with the closest one that is; a set or rule that was renamed or
        taken out, with what to write instead.
    """
    book = rule_book()
    ids = [rule.id for rule in book]
    for name in names:
        if name not in rule_sets():
            raise _unknown("rule set", name, rule_sets(), "check", GONE_SETS)
    for name in off:
        if name not in ids:
            raise _unknown("rule", name, ids, "off", GONE_RULES)
    return tuple(rule for rule in book if rule.set in names and rule.id not in off)


def _unknown(
    kind: str, name: str, known: Sequence[str], key: str, gone: dict[str, str]
) -> InputError:
    field = f"[rules] {key}"
    if name in gone:
        problem = f"there is no {kind} {name!r} any more"
        return input_error(problem, gone[name], file="site.toml", field=field)
    closest = difflib.get_close_matches(name.lower(), known, n=1, cutoff=0.0)[0]
    return input_error(
        f"unknown {kind} {name!r}",
        f"the closest known is {closest!r}",
        file="site.toml",
        field=field,
    )
