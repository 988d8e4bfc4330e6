"""Invented families for the forecast's bands: they share no code and no figures with the forecast itself."""
