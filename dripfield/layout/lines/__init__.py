"""What every method of layout draws with: frame, terrain, tracing, fairing, laying."""
