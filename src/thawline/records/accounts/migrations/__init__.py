"""The steps by which the stored form changed."""
