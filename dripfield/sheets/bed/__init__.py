"""What is written about a bed: take-off, section, depth map, rake sheet, check of the raked bed."""
