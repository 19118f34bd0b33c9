"""Everything tabulated for the day: take-off, coil plan, readiness, day plan, submittal."""
