"""Captures and logs of the bench, and the figures that are read from them."""
