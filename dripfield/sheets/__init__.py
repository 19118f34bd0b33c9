"""Everything drawn or tabulated for people."""
