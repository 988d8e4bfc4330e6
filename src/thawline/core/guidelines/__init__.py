"""Published storage guidelines as data: one TOML file each, figures beside their sources."""
