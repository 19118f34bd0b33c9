"""Plans, limits and findings of a review as data."""
