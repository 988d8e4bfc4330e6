"""How much will be drunk and expressed, and how long the stock lasts: ranges, never targets."""
