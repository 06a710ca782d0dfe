"""The user's circuit: design file, parts, stages, sheet and command line."""
