"""The command line: a thin layer over the library, one module for each command.

Only the module of the command that runs is imported, so that ``--help`` stays fast.
"""

from __future__ import annotations

from dripfield.cli.group import CommandTable

main = CommandTable(
    name="dripfield",
    help="From a surveyed bed to a drip field that can be staked and checked.",
    commands={
        "new": "Write a commented starter site.",
        "layout": "Lay out laterals: table, stakes, drawing and plan.",
        "batch": "Lay out every site below a folder.",
        "survey": "Say how far the survey can be trusted.",
        "sheets": "Write the crew's sheets for paper and phone.",
        "zones": "Join laterals, divide into zones, solve dose and flush.",
        "bed": "Volumes and a section of the bed.",
        "check-bed": "Check shots on the raked bed against its design.",
        "prepare": "Take-off, heights, readiness list and plan of the day.",
        "compare": "Compare an approved plan with the layout.",
        "record": "Draw what was laid from shots on it.",
    },
)
