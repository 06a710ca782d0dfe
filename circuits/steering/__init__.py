"""Steering: the loop that trims the pulse width, its constants for firmware, its trial run."""
