"""From lines to marks: which marks a crew sets, in what order, and how it sets each."""
