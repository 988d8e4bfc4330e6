"""What to do by when, as a calendar that a phone subscribes to."""
