"""Plans, common points and shots of others, read from whatever file they are in."""
