"""The invented demo data pack Dunmallow: files only. pack.toml says what it is."""
