"""What is needed for the day: take-off, heights, readiness, day plan and submittal on paper."""
