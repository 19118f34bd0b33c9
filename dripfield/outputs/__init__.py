"""What each command leaves behind."""
