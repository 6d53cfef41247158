"""The invented demo data pack Oxlip, whose heads are built by code. pack.toml says what it is; hooks.py answers the hooks."""
