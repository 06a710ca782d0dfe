"""The user's circuit: design file, parts, stages, sheet and command line."""

VERSION = "0.1.0"
