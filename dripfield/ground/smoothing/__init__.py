"""A smoothed ground that leaves no shot by more than a stated amount."""
