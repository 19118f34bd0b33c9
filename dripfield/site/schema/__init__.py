"""Every table and key of ``site.toml``."""
