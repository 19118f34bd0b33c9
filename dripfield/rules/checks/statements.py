"""Rules that a plain statement of the design answers."""

from __future__ import annotations

from dripfield.rules.checks.answer import Answer, judged
from dripfield.rules.model.book import Rule
from dripfield.rules.model.facts import Facts, Missing

STATEMENTS = {
    "pressure_regulation": "pressure is regulated",
    "air_valves": "air and vacuum valves stand at the highest point of every zone, under cover, "
    "with access at grade",
    "drains_back": "supply and return drain back to the tank",
    "check_valves": "there are check valves in supply or return",
    "falls_to_tank": "the delivery pipe falls back to the tank and lies below frost",
    "alarm": "an audible and visual alarm is set",
    "alarm_circuit": "the high-water alarm, audible and visual, has a circuit of its own",
}


def stated(rule: Rule, facts: Facts) -> Answer:
    """The design states what the rule asks for, or denies what it forbids."""
    words, said = STATEMENTS[rule.of], facts.system.stated.get(rule.of)
    wanted = f"the rule {'asks for' if rule.wanted else 'forbids'} this"
    if said is None:
        raise Missing(f'nothing is said of this: "{words}"; {wanted}')
    return judged(said != rule.wanted, f'"{words}": {"yes" if said else "no"}; {wanted}')
