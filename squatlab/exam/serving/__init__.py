"""A certifying sitting as a place: this machine serves it, times it and keeps it."""
