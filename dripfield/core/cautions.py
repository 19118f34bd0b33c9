"""What can hurt somebody on the job: one text for each caution, for every sheet that carries it.

Each says what is usual; the last, which every sheet carries, leaves the rest to local code and
licensed practice. Sheets pick by topic with :func:`cautions`; none words a caution of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Topic = Literal[
    "utilities", "paint", "overhead", "excavation", "tanks", "lids", "wastewater", "electricity",
    "frost", "soil", "code",
]  # fmt: skip


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    topic : str
    text : str
        As every sheet words it.
    source : str
        Where it is from; "common practice, no source" and "from memory" are said as such.
    """

    topic: Topic
    text: str
    source: str


CAUTIONS = (
    Caution(
        "utilities",
        "Before digging have buried utilities located and marked: call 811 (United States) or the"
        " local one-call service and wait for the marks. Private and septic lines are usually not"
        " marked.",
        "29 CFR 1926.651(b) (stored copy, age unknown); each state's one-call law (from memory);"
        " 49 CFR 196.103 and 196.107, for pipelines only; 811 as the number (from memory)",
    ),
    Caution(
        "paint",
        "Paint and flag with pink (temporary survey marks) and white (proposed excavation) only:"
        " red, yellow, orange, blue, purple and green mark utilities.",
        "uniform color code for marking utilities (from memory)",
    ),
    Caution(
        "overhead",
        "Look up: keep machines, rods and pipes well away from overhead lines, and take every line"
        " as live. Its owner and the local rules say how far.",
        "29 CFR 1926 subparts O and CC (from memory)",
    ),
    Caution(
        "excavation",
        "Trenches and pits cave in. From 4 ft (1.2 m) deep a ladder or ramp must be within 25 ft"
        " (7.6 m). Protection from cave-in is always needed, except in stable rock, or under 5 ft"
        " (1.5 m) where a competent person finds no sign of cave-in.",
        "29 CFR 1926.651(c)(2) and 1926.652(a)(1) (secondary copy)",
    ),
    Caution(
        "tanks",
        "Never enter a tank or pump chamber, not even to help: its air can kill. That is work for a"
        " trained confined-space crew under the rules that apply.",
        "29 CFR 1910.146(b) (stored copy, age unknown); 29 CFR 1926 subpart AA in construction"
        " (secondary copy)",
    ),
    Caution(
        "lids",
        "Old tank lids give way: find every old tank and keep people and wheels off it until it is"
        " made safe as the local office requires.",
        "common practice, no source",
    ),
    Caution(
        "wastewater",
        "Wastewater and the soil it has wetted carry disease: wear gloves, cover cuts, wash hands"
        " before eating.",
        "CDC, guidance on handling human waste or sewage (stored copy, age unknown)",
    ),
    Caution(
        "electricity",
        "Wiring of pump, alarm and control panel is work for a licensed electrician under the"
        " locally adopted code. Lock out before opening.",
        "NFPA 70 as locally adopted (from memory); common practice",
    ),
    Caution(
        "frost",
        "Frost bursts what stays full: pipes lie below the local frost depth or drain, as the local"
        " code and the designer's documents say. Do not lay in frozen soil.",
        "common practice, no source",
    ),
    Caution(
        "soil",
        "Keep wheels off the field and stay off wet soil: soil that is compacted or smeared no"
        " longer takes water. The designer says when it is dry enough.",
        "common practice; Ala. Admin. Code r. 420-3-1-.62(2)(d) also asks for no smearing or"
        " compaction",
    ),
    Caution(
        "code",
        "Local code, the permit and licensed practice govern over this sheet.",
        "common practice, no source",
    ),
)

_ALWAYS: tuple[Topic, ...] = ("tanks", "code")


def cautions(*topics: Topic) -> tuple[str, ...]:
    """The texts of the cautions on some topics.

    Never to enter a tank, and that local code governs, are among them always.

    Parameters
    ----------
    *topics : str
        Those of :data:`CAUTIONS`; all of them when left out.

    Returns
    -------
    tuple of str
        In the order of :data:`CAUTIONS`, whatever the order asked for.

    Examples
    --------
    >>> [text[:13] for text in cautions("frost")]
    ['Never enter a', 'Frost bursts ', 'Local code, t']
    """
    wanted = {*topics, *_ALWAYS} if topics else {one.topic for one in CAUTIONS}
    return tuple(one.text for one in CAUTIONS if one.topic in wanted)


def caution(topic: Topic) -> str:
    """The text of one caution, where there is room for no more."""
    return next(one.text for one in CAUTIONS if one.topic == topic)
