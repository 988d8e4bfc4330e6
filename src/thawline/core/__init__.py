"""The pure core: events, containers, clock rules and guidelines, without clock, network or randomness."""
