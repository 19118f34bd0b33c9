"""Plans and shots of others beside the layout: comparison, totals, setbacks, record."""
