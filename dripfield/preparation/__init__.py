"""Ready for the day: take-off, heights and water around tanks, readiness, day plan, submittal."""
