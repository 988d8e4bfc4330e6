"""The faces: how Thawline speaks to people and machines."""
