"""Thawline: what happened to expressed milk, and what may still be done with it by when."""
