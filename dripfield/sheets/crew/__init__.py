"""What the field crew takes along: printed sheets, tables, stake-out files, a phone page."""
