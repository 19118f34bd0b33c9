"""Rules, and the facts they are held against, as data."""
