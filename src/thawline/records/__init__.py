"""Room for what is stored: households, people and their ledgers."""
