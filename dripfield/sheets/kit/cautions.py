"""The cautions that every sheet and page for the crew carries.

Sources: 49 CFR 196.103 (call before excavating), 29 CFR 1926.651 and .652 (excavations), 29 CFR
1926 subpart AA (confined spaces in construction), CDC guidance on handling human waste or sewage,
APWA Uniform Color Code.
"""

from __future__ import annotations

CAUTIONS = (
    "Before digging have buried utilities located and marked (811 in the United States), wait for"
    " the marks and keep them. Private lines, septic lines among them, are usually not marked.",
    "Paint and flag with pink (temporary survey marks) and white (proposed excavation) only: red,"
    " yellow, orange, blue, purple and green mark utilities.",
    "Trenches and pits cave in: from 4 ft (1.2 m) deep a way out is required, from 5 ft (1.5 m)"
    " protection, unless a competent person finds otherwise under the rules that apply.",
    "Never enter a tank, pump chamber or pit without confined-space procedure.",
    "Wastewater and its soil carry disease: gloves, covered cuts, washed hands before eating.",
    "Panel, pump and alarm wiring is a licensed electrician's work; lock out before opening.",
    "Local code, the permit and the licensed designer's documents govern over this sheet.",
)
